// Package kernel is what every room of the store stands on: the open file with
// its connections and parsed statements, transactions, rows, the values that
// columns hold, the numbered migrations, the log of changes and the list of boats
// that are to be planned again.
//
// In go statements and their arguments, out come typed rows and errors; what a
// table means is the business of the room that asks. It may import schedule and
// its leaves, and no room of the store. Only rooms under store can import it.
//
// A newcomer may add a migration (the next number; one that landed is never
// changed), a reader of one more kind of cell to [Row], a piece of SQL that
// several rooms spell alike to query.go. Whoever changes how connections are
// opened or transactions shared runs the kills and the full disk too: bash
// .ci/run kills.
package kernel
