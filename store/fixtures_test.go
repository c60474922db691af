package store_test

import (
	"bellbuoy/store/storetest"
)

// What the rooms of the store share, under short names.
var (
	noon       = storetest.Noon
	day        = storetest.Day
	open       = storetest.Open
	small      = storetest.Small
	take       = storetest.Take
	known      = storetest.Known
	everything = storetest.Everything
	raw        = storetest.Raw
	rawAt      = storetest.RawAt
	letter     = storetest.Message
	queue      = storetest.Queue
)

const lease = storetest.Lease
