// Package level fits visits into the weeks that a shop can really work.
//
// It decides which week a visit is penciled into, so that booked work comes
// first, deadlines hold, no week is over its capacity, weeks fill up to a target
// as close to what suits each visit as possible, and a plan that is made again
// moves as few customers as it can. It never decides what a visit contains or
// when it falls due, never splits a visit over weeks, never puts more into a week
// than it can hold, and never asks the clock. The planner's caller runs [Fit] for
// a whole plan and [Place] after a single change; [Shop.Weeks] says how many hours
// the weeks have. Quantities are whole minutes, and numbers of boats for lifts: a
// week has so much of each [Resource], and a visit needs so much of each. Nothing
// is kept between calls, so any number may run at once.
//
// # What a plan costs
//
// A week before the one a visit wishes for costs 1, a week after it 3, for each of
// its minutes; a week before the first one that makes sense for it costs far
// more. Among plans in time and within the target the cheapest is sought: an idle
// shop has every visit where it wishes to be.
//
// A deadline in the middle of a week has that week's hours up to and including
// its day. Work booked on a day takes the hours of that day, and of the days
// before it where it is longer than that.
//
// # How a plan is made
//
// Ceilings (ceiling.go). Every week should hold at most the target. Where serving
// by earliest deadline then leaves somebody late, the weeks that press on that
// deadline go up together, to the smallest share of their capacity with which
// nobody is. A full autumn is then no reason for a crowded spring.
//
// Keeping (fill.go). Jobs stay in the week they had while that week is possible
// for them and holds them. Above its ceiling and a tolerance of a tenth of its
// capacity a week gives some up, the longest first, never one whose customer was
// told. What is overdue takes the earliest week with room.
//
// Serving (fill.go). Each week takes the waiting jobs by earliest deadline up to
// its ceiling; then those that are new in their week move towards their wishes.
// If hours are short even at full capacity, the jobs that can be in time are
// chosen first, by priority.
//
// Repair (repair.go). A job that is still without a week gets in by moving others
// within their time, those who were told last; failing that, at the cost of less
// important ones. What is left is at risk: it is reported with the minutes that
// are missing and put into the first week with room after its deadline (late.go).
//
// Improving (improve.go). Jobs that are new in their weeks change places, or move
// on in turn along a row of full weeks, as long as that costs less.
//
// # How good it is
//
// With a target of 0 everything is levelled. The tests hold the peak then against
// the best plan that splits visits, which no plan can beat: a few minutes more in
// shops of hundreds of visits, and less than the longest visit.
//
// Whether whole visits fit at all near full capacity is bin packing, so there is
// no promise. The tests try everything on shops of two to four weeks, with one
// resource and two, and allow 1 shop in 200 to have fewer visits in time than
// could be at 85 % of capacity, 1 in 50 at 100 %; and of the plans with the same
// visits in time 5 in 100 to cost more than 5 % too much. If all visits are equally
// long and there is one resource, the jobs of a new plan that are in time are the
// most important that can be in time together, and no plan for them costs less.
package level
