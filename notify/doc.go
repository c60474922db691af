// Package notify makes what leaves the house: calendar feeds, mails, and the
// policy of who hears what and when. It turns the domain's views into bytes
// that calendar programs and mail readers take, and into addresses that nobody
// can guess.
//
// It decides how things are said and whether a byte may go out: whatever a
// check here refuses is never served and never queued. It never decides what
// falls due, never reads the clock (instants come in as parameters) and never
// opens the shop's file: what it needs from there it is handed, or asks for
// through a small interface. The web server and the commands call it.
package notify
