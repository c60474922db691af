//go:build !race

package store_test

const raced = false
