// Package returns counts what comes back: how many of the boats that a shop
// sold return for service, how soon, for how long, and what the coming months
// may bring. It decides how these figures are defined and how sure they are; it
// never reads a file, asks the clock, or knows a customer's name. The shop's
// round feeds it plain histories and shows what comes out.
//
// Two rules hold everywhere. A boat that has not come back yet and was sold
// lately is no failure: its time is censored, not counted against the shop. And
// a share is never shown without the count that it is a share of.
package returns
