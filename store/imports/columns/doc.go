// Package columns is the one table of the five files' columns: customers.csv,
// boats.csv, components.csv, history.csv and readings.csv. The import reads and
// checks rows by it, the export and the demo write them by it.
//
// In go the cells of a line, or a typed row that another front end made; out comes
// a typed row, with every fault of its cells told to the shop's import. A row comes
// in again as it was written. It may import schedule with its leaves and what is
// internal to the store. To add a column, add a line to its file's list here; what
// may stay away in a header is not required, and a row that is known then keeps
// what it has.
package columns
