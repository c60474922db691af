package imports_test

import (
	"context"

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

// ctx is for tests in which a framework stands between them and the context.
var ctx = context.Background()
