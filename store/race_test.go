//go:build race

package store_test

// raced: the race detector makes everything several times slower, so that
// times say nothing and large cases are made small.
const raced = true
