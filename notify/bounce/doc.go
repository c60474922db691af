// Package bounce reads what comes back: delivery reports, complaints, automatic
// replies, and the replies of people who want no more emails.
//
// In: the bytes of a message from the mailbox. Out: a [Bounce] or a [Reply]; it
// never fails on a broken message and never acts. [VERP] makes and reads the
// return addresses by which a bounce names its email. It does no I/O. It imports
// notify for the check of an address, schedule/words, and
// notify/internal/refusal, which send shares: a refusal means the same whether
// the server says it or a report quotes it.
//
// A newcomer may add a pattern: the message to testdata/bounces, a line to
// bounce_test.go, then the pattern in report.go or, if a live server says it too,
// in notify/internal/refusal.
package bounce
