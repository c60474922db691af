// Package tables is what the rows of the facts' tables are: their columns, how one
// is read and written, how claims to a boat become its owners, when a meter's
// reading can be true. The columns of a table stand here once, beside the reader
// that takes them in that order.
//
// In go a transaction and a fact, out come facts and what writing did. It decides
// nothing and leaves no entry in the log of changes: that is for the room that
// calls. It may import the kernel, match, and schedule with its leaves. A
// newcomer who adds a column adds it here, to the migration and to
// store/archive/columns.csv.
package tables
