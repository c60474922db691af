// Package notify decides who hears what and when: reminders, confirmations,
// cancellations, welcomes, summaries, and whom to call instead.
//
// In: a customer with boats, plan, replies and what was said before
// ([schedule.Recipient]), the shop's policy, an instant. Out: notices, calls,
// assignments to the comparison group. It is pure: no clock, no file, no network.
// Of our own it imports schedule and its leaves; the rooms below it import it,
// never the other way:
//
//   - message makes a notice an email's bytes
//   - send takes it to the mail server
//   - bounce reads what came back
//   - feed makes calendars of the plan
//   - link makes the addresses that nobody can guess
//
// A newcomer may change when a step is due and what it needs ([PolicyConfig],
// steps in policy_steps.go; the yearly cap and the seasons without a reply in
// policy_limits.go); policy_property_test.go and policy_limits_test.go say what must hold whatever
// the policy: nothing twice, nothing to who asked not to be told, at most one
// email a customer and day beside what answers a booking.
package notify
