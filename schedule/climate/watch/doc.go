// Package watch reads weather forecasts and says what freeze they foretell: for
// each coming night the lowest temperature, the hours at or below a threshold,
// and whether that is worth a look or an alarm.
//
// It reads two documented formats of national weather services, the US National
// Weather Service's gridpoint JSON and MET Norway's Locationforecast 2.0
// (compact), from bytes that the caller fetched or opened. It opens and fetches
// nothing, asks no clock, and knows no boats: package schedule says what of a
// boat would freeze, and the caller what follows. What the levels mean stands
// at [Limits]; every figure there is the shop's to set.
package watch
