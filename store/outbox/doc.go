// Package outbox keeps the letters that wait, are being sent or have been, with
// what their readers heard by them: it gives each out once, marks its final dot
// before that goes out, writes down what became of it, withdraws what is no longer
// true, and pauses or holds the queue. Beside it lie what came back, addresses
// that are dead, who was told what, and which reminders were held back to compare.
//
// In go letters already made and moments, out come letters to send, states and
// counts. Each function that changes something is one transaction; those of
// [Queue] may share theirs with others. It may import store and what is internal
// to it, schedule and its leaves; it knows no mail server and no wording. A
// newcomer may add a list or a count. A new state of a letter needs the columns'
// description in the archive, a line in store's Check, and the model in
// outbox_test.go.
package outbox
