// Package freeze keeps what is known of the cold at the shop's places: the climate
// that a weather file gave, the newest forecast, how the nights of it were judged,
// the freezes that raised an alarm, what the station recorded in the end.
//
// In go judgements that somebody else has made (schedule/climate, climate/watch,
// app), out come rows. It imports store and its kernel. What a judgement changes is
// one transaction: the boats of the place are planned again, and a freeze that
// relented takes its unsent emails back.
package freeze
