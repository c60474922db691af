// Package forecast says when an engine will have run so many hours.
//
// Meters are read seldom: at a service, at the sale, when a customer answers a
// mail. Between the readings the hours must be estimated, and an estimate that
// does not say how wrong it may be is of no use to somebody who fills a shop
// week with it. So this package answers with chances: the day by which a limit
// is reached in one case out of four, in half of all cases, in three of four.
//
// # The model
//
// A boat goes out now and then, for some hours each time. The outings of one
// season are a Poisson count; how many an owner makes is not known but has a
// Gamma prior by kind of boat ([Prior]), which the readings sharpen. Running
// time passes only between launch and haul-out and faster in July than in May
// ([Season]); it is counted in seasons, so a full one is 1. With a prior of a
// outings in b seasons, n outings seen in e seasons leave a Gamma with shape
// a+n and rate b+e, and the outings still to come over a running time t are
// negative binomial:
//
//	P(N >= k) = I(k, a+n; t/(b+e+t))
//
// with I the regularised incomplete beta function (Abramowitz & Stegun,
// Handbook of Mathematical Functions, 26.5.24 and 6.6.1, from memory). It holds
// for fractions of an outing too, which makes the day of a given chance a
// quantile of the Beta distribution, with no search over days.
//
// A limit is seldom met at the very end of an outing; on average half an
// outing lies beyond it. So H hours count as H/L + 1/2 outings of length L,
// the usual continuity correction.
//
// What the model leaves out is measured in the tests, on simulated fleets: that
// outings are uneven and that owners are not spread like a Gamma costs next to
// nothing; that an owner has good summers and bad ones costs much, which is why
// a [Prior] can say so.
//
// # What it never does
//
// It never asks the clock, never decides what is due (the planner does, at the
// percentile that the shop sets), and never repairs a reading: what cannot be
// true is left out and handed back as a [Fault]. All hours are floats here,
// because they are estimates; exact meter figures are measure.Hours elsewhere.
// Everything is immutable once made and safe for use by several goroutines.
package forecast
