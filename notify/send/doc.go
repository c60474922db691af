// Package send takes queued emails to the shop's mail server, stage by stage, so
// that the outbox knows at every moment whether one can have arrived.
//
// In: an [Outbox], the server's settings, a clock function. Out: an outcome
// recorded for each email, and the counts of a drain. It does network I/O and
// nothing else; the outbox is an interface, so that it knows no store. It imports
// schedule for the letter and its outcome, and notify/internal/refusal, which
// bounce shares.
//
//   - sender.go: settings, and one drain
//   - lanes.go, connection.go: how many connections, and one of them
//   - attempt.go, verdict.go: one email to its final dot, and what that comes to
//   - brakes.go: when the queue pauses by itself
//
// A newcomer may change waits, limits and brakes; every case of verdict.go has
// its line in the scripted servers of sender_test.go.
package send
