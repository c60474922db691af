// Package rules is the catalogue of maintenance rules: when a service falls
// due, on which components, what it takes, what it costs, what goes wrong if it
// is missed, and where each figure comes from.
//
// It decides whether a rule applies to a component ([Rule.Matches]) and whether
// a catalogue makes sense ([Catalogue.Check]). It never decides on a day: it
// knows neither boats nor records nor the calendar, and leaves due days,
// windows and visits to package schedule, its caller. The catalogue that ships
// with the program is embedded ([Default]); a shop changes it with a file of
// its own ([Parse], [Catalogue.Extend]). The package reads no files, and a
// catalogue is never changed once made, so goroutines may share one.
//
// What customers read of a rule stands in its file by language ([Rule.Words]),
// English where another language has no words ([Catalogue.Lacking]).
//
// There is no universal interval. Makers print anything from 100 hours to
// 1,000 hours for the same part, so every interval here is a default to be
// checked against the engine maker's manual, and a shop writes down what that
// manual says under a [Family].
package rules
