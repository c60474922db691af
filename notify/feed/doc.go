// Package feed makes calendars that calendar programs subscribe to.
//
// In: a boat's view ([schedule.BoatView]), the shop, links and a day for events;
// stored sequence numbers and instants for their rendering. Out: VEVENT blocks
// and whole calendars, folded and checked: what [Validate] refuses is never
// served. The same facts give the same bytes; clients count on it. It imports
// schedule and its leaves only, opens nothing and asks no clock.
//
//   - boat.go: which events a boat has, and the desk's form of them
//   - notes.go: the words in them
//   - event.go, calendar.go: events and calendars as RFC 5545 writes them
//   - check.go: what a calendar must hold, read back from the bytes
//
// A newcomer may change the words; each change bumps every event once, so that
// all subscribers fetch it. A new property needs its line in the table of
// check.go. [UID] must never change.
package feed
