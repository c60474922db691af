// Package figures counts what the owner asks: repeat-service money, the season's
// funnel, who comes back and who lapsed, the months ahead, hours, and the monthly
// report. A shop and a day go in; figures come out, each with the name of the
// list behind it. It only reads, except for what is worked out once and kept (past
// seasons) and the monthly report that it queues. The statistics are in
// schedule/returns. A newcomer may add a figure: a method of [Ledger], and the
// rows behind it in table.go.
package figures
