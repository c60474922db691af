//go:build !race

package store_test

// slowdown is 1 without the race detector.
const slowdown = 1
