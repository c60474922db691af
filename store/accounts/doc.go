// Package accounts keeps who may sign in and who is signed in: names, roles, hashes of
// passwords, sessions.
//
// In go names, roles and hashes that somebody else has made, out come accounts. It
// imports store and its kernel, and no other room imports it but app and the pages
// that ask who is there. It never sees a password or a session's token as it is sent.
package accounts
