// Package schedule turns what is known about a boat into a dated, explained
// plan of maintenance. It is the domain: it decides what falls due, on which
// day, with which visit, and says why. It is pure: it never asks the clock,
// never reads a file or a database, never sends anything. The same facts,
// settings and day give the same plan to the byte.
//
// The rooms under it are leaves that work on plain numbers and days:
// civil (days and weeks), rules (the catalogue), forecast (engine hours),
// climate (freeze days) and level (shop weeks). store and notify share the
// types of this package and nothing else.
package schedule
