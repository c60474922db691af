// Package archive takes the shop's file as a whole: backup, restore, an export as
// plain files and its way back, and everything that is kept about one customer.
//
// In go a shop and folders, out come files that are whole or not there at all:
// they are made under another name, looked through and put on the disk first. It
// may import store and what is internal to it, and the outbox, whose letters a
// restored shop must not send twice. A newcomer who adds a column describes it in
// columns.csv; a table that must not leave the house belongs to excludedTable, a
// column to excludedColumns. Whoever changes the order of steps runs bash .ci/run
// kills.
package archive
