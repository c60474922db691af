// Package link makes and reads the secret part of addresses: of feeds, of a
// customer's page, of its stop page.
//
// In: the shop's secret, and what a link is to open. Out: a token that nobody can
// guess, and back from it what it opens. Nothing about a link is stored but the
// generation by which it is revoked. It imports nothing of our own.
//
// A newcomer may add a [Purpose] or a [Scope]; those that are there are in emails
// and calendars out in the world and must stay.
package link
