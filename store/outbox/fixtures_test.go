package outbox_test

import (
	"context"

	"bellbuoy/store/storetest"
)

// What the rooms of the store share, under short names.
var (
	noon    = storetest.Noon
	rawAt   = storetest.RawAt
	letter  = storetest.Message
	mailing = storetest.Mailing
	queue   = storetest.Queue
)

const lease = storetest.Lease

// ctx is for tests in which a framework stands between them and the context.
var ctx = context.Background()
