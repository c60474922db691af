// Package refusal sorts what a mail server says when it takes a message not, by
// whose fault it is. A live answer and one quoted in a bounce are read alike.
//
// In: reply code, enhanced status code, words. Out: a [Kind]. It imports nothing
// of our own. A newcomer may add words of a mail host, with a case in the tests
// of send or bounce.
package refusal
