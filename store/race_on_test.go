//go:build race

package store_test

// slowdown is about how many times longer the race detector makes the work.
const slowdown = 10
