// Package message makes of a notice an email's bytes.
//
// In: a notice ([notify.Notice]) with its links; the shop; the texts of a
// language; a key, if emails are to be signed. Out: a [schedule.Letter],
// ready to be queued; the same notice gives the same bytes. It reads no file but
// the embedded texts and template, and asks no clock. It imports notify for the
// notice and schedule for the facts; it needs neither feed nor send.
//
// A newcomer may change the words (texts/en.toml; a phrase that no code uses, or
// that code wants and the file lacks, fails a test) and the looks
// (templates/mail.html), then run go test ./notify/message -update and read the
// diff of testdata/mail.
package message
