// Package duplicates finds customers and boats that are probably entered twice,
// makes two of them one and takes that back, remembers which pairs are two, and
// erases a person.
//
// In go ids and who asks, out come pairs with their reasons; each change is one
// transaction with its entry in the log of changes. It may import store and what
// is internal to it, and schedule with its leaves. A newcomer may add a reason why
// two may be one. A new table that names a customer or a boat must be moved by a
// merge, put back by its undo and emptied by [EraseCustomer]; the tests compare
// all rows before and after.
package duplicates
