//go:build race

package storetest

// Slowdown is about how many times longer the race detector makes the work.
const Slowdown = 10
