// Package lease says which of two machines may send a shop's emails. Both can
// run a daemon on a copy of the same shop: one that is stopped, cut off or slow
// looks dead to the other, and may wake up. The lease is an object in
// S3-compatible storage that only one of them can have written last.
//
// In: the object's address and keys, a clock. Out: [Keeper.MaySend], asked before
// each email. It does network I/O and nothing else.
//
//   - policy.go: who holds the lease, who may send, how long to wait; pure
//   - object.go: the object, read and written under a condition
//   - keeper.go: one process that renews it or waits for it
//
// The times are fixed, because both machines must go by the same ones.
package lease
