// Package climate finds the day by which boats at a place must be laid up:
// the day by which the first freeze of the autumn has come in a given share
// of years.
//
// It reads what the weather services publish (daily minima in three file
// shapes, or ready freeze normals), drops what their own quality control
// doubts, decides which autumns are complete enough to count, and says in
// plain words what the answer stands on. It reads from an [io.Reader] that the
// caller opened; it never opens a file, asks the clock or fetches anything, and
// it never refits or smooths a published figure. Whether a boat can wait
// longer is no question for this package: a lay-up day is an estimate from past
// years, and the engine maker's manual and tonight's forecast come first.
//
// The climate command and the store's intake call it; the planner only sees
// the resulting day of the year.
package climate
