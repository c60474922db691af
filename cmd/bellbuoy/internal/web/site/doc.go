// Package site is the frame of the pages of desk, owner and customers, and of
// the calendar feeds. It decides who may see what, and how it looks; it never
// decides what falls due or what a mail says, and a GET never changes anything,
// because mail scanners follow links. The serve and demo commands start it.
package site
