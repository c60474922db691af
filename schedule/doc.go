// Package schedule turns what is known about a boat into a dated, explained
// plan of maintenance. It is the domain: it decides what falls due, on which
// day, with which visit, and says why. It is pure: it never asks the clock,
// never reads a file or a database, never sends anything. The same facts,
// settings and day give the same plan to the byte.
//
// A reason is worded each time it is shown and never stored: explain.go, why.go,
// when.go and events.go choose, from an item's facts, one phrase of the catalog of
// texts (schedule/texts, the tables [reasons...]) and fill its holes with days and
// figures as the reader's language and the shop's format write them. Which words
// come in which order is the phrase's business alone: a sentence is one phrase, and
// what may be left out of it is a hole that an own phrase or nothing fills. Titles
// and consequences are the rule's own, by language ([rules.Rule.Words]).
// [Planner.View] is for the shop, in English; [Planner.ViewIn] for a customer.
//
// The rooms under it are leaves that work on plain numbers and days:
// civil (days and weeks), rules (the catalogue), forecast (engine hours),
// climate (freeze days) and level (shop weeks). store and notify share the
// types of this package and nothing else.
package schedule
