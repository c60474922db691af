// Package message makes an email's bytes, for customers and the owner alike: all
// leave through [Renderer], so that all have the same sender, the same checks and,
// where there is a key, a DKIM signature.
//
// In: a notice ([notify.Notice]) with its links, or a [Report] that somebody else
// worded; the shop; the texts of all languages. Out: a [schedule.Message],
// ready to be queued; the same notice gives the same bytes. It reads no file but
// the embedded template, and asks no clock. It imports notify for the
// notice and schedule for the facts; it needs neither feed nor send.
//
// A newcomer may change the words (schedule/texts; a phrase that no code uses, or
// that code wants and the file lacks, fails a test) and the looks
// (templates/mail.html), then run go test ./notify/message -update and read the
// diff of testdata/mail.
package message
