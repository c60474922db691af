//go:build !race

package storetest

// Slowdown is 1 without the race detector.
const Slowdown = 1
