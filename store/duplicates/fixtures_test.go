package duplicates_test

import (
	"bellbuoy/store/storetest"
)

// What the rooms of the store share, under short names.
var (
	noon       = storetest.Noon
	day        = storetest.Day
	open       = storetest.Open
	small      = storetest.Small
	files      = storetest.Files
	take       = storetest.Take
	known      = storetest.Known
	everything = storetest.Everything
)
