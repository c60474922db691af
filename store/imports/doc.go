// Package imports takes customers, boats, components, work and readings in from
// files: the five files of our own, and other programs' files and workbooks by a
// mapping (package mapping) over the tables in them (package sheet).
//
// In go open files, settings that say which words are known, and a moment; out
// comes a report of what was new, changed or unchanged, or of every fault with its
// file, line and field. All is one transaction: with a single fault nothing was
// taken in.
//
// There is one way into the store, [intake], which takes typed rows, and two that
// lead to it: csv.go reads the five files by the table in package columns, the files
// mapped*.go join what the rows of other tables say of customers and boats and give
// the same rows. Each row bears where it stands, and what is wrong with it comes back
// under that number.
//
// It may import store and what is internal to it, duplicates (for ids that were
// merged), and schedule with its leaves. A newcomer may add a column: a line in
// package columns, and a field of package mapping if other tables have it. Importing
// the same files twice changes nothing, and 20,000 rows take about a second; the
// tests and BenchmarkIntake hold both.
package imports
