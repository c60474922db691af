// Package store keeps the shop's facts, plans and feeds in one SQLite file. It
// decides how they are written down and in which transactions they change
// together; it never decides what falls due, who is told or what an email says,
// never asks the clock and never opens a network connection. It knows the domain's
// types (package schedule) and nothing of notify.
//
// In go facts, plans and questions, out come facts, plans and [ErrNotFound],
// [ErrRefused] and kin. It imports what is internal to it (the kernel, rows of
// tables) and schedule. On it stand its rooms: imports, outbox, duplicates,
// freeze, accounts, archive, report; it imports none of them. A newcomer may add a fact's writer or
// a question beside its like; what joins many tables for a page belongs to report,
// and what a row looks like to internal/tables.
//
// Every method takes a context first and, where a moment matters, the moment.
// A method that changes something is one transaction: when it returns nil the
// change is on the disk, otherwise nothing has changed. Each change of a fact
// leaves an audit entry and marks its boat for planning in that transaction.
//
// The file is in write-ahead-log mode with full synchronisation, because a mail
// that was marked as sent must stay marked after a power cut. One connection
// writes; a few others read and never wait for it. Instants are whole seconds
// since 1970, days are text YYYY-MM-DD, money is cents and meter hours are
// tenths, so that the file can be read and checked with any SQLite tool.
package store
