// Package report reads across the tables for pages, commands and the owner's
// figures: what is found by a word, the list of weeks, paid work, the log of
// changes. It also keeps what the figures need to remember of a day that is over.
//
// In go questions, out come rows in a fixed order, a page at a time. It may import
// store and what is internal to it, and schedule with its leaves; it counts and
// joins, and what a figure means is for package figures. A newcomer may add a
// query; look with EXPLAIN QUERY PLAN that it uses an index.
package report
