// Package level fits visits into the weeks that a shop can really work.
//
// It decides which week a visit is pencilled into, so that booked work comes
// first, deadlines hold, no week is over its capacity, the load is even, and a
// plan that is made again moves as few customers as it can. It never decides
// what a visit contains or when it falls due, never splits a visit over weeks,
// never puts more into a week than it can hold, and never asks the clock. The
// planner's caller runs [Fit] for a whole plan and [Place] after a single
// change; [Shop.Weeks] says how many hours the weeks have. Quantities are whole
// minutes. Nothing is kept between calls, so any number may run at once.
//
// # How a plan is made
//
// Ceilings. If visits could be split, the smallest even load is known exactly:
// the run of weeks that is hardest pressed sets its own level, then the rest is
// levelled without it. A full autumn is then no reason for a crowded spring.
// Visits cannot be split, so the ceilings are that profile and as few minutes
// more as make earliest-deadline-first succeed.
//
// Keeping. Jobs stay in the week they had while that week is possible for them
// and holds them. Above its ceiling and a tolerance of a tenth of its capacity
// a week gives some up, the longest first, never one whose customer was told.
//
// Serving. Each week takes the waiting jobs by earliest deadline up to its
// ceiling; then those that are new in their week move towards the week that
// wastes least. If hours are short even at full capacity, the jobs that can be
// in time are chosen first, by priority.
//
// Repair. A job that is still without a week gets in by moving others within
// their time, those who were told last; failing that, at the cost of less
// important ones. What is left is at risk: it is reported with the minutes that
// are missing and put into the first week with room after its deadline.
//
// # How good it is
//
// Let p be the longest visit. The peak of the plan is less than p above the
// peak of the best plan that splits visits, hence of any plan, as long as that
// much room lies between the profile and the capacity of every week. For
// suppose that each week may hold p-1 minutes more than the profile gives it.
// While it holds less than the profile gives it, the waiting job with the
// earliest deadline always fits. So if a job misses its deadline d, then from
// some week a on every week to d did at least its share of the profile in jobs
// that were released since a and due by d, and there was still a job left over:
// the work that must be done within a..d exceeds the profile, which holds it.
// The tests find far less than p: a few minutes in shops of hundreds of visits.
//
// Near full capacity there is no such promise, because whether whole visits fit
// at all is bin packing. The tests try everything on shops of two to four weeks
// whose visits are up to a week long, and allow 1 possible plan in 200 to be
// missed at 85 % of capacity and 1 in 50 at 100 %; real visits are a small part
// of a week. If all visits are equally long, the jobs of a new plan that are in
// time are the most important that can be in time together.
package level
