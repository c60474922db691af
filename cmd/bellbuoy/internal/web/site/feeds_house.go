package site

import (
	"context"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule/civil"
)

// houseFeeds takes feeds from the shop's file, as of the shop's own day.
type appFeeds struct {
	house *app.App
	now   func() time.Time
}

// FeedState has the window's last move for the moment of change if that is the
// later one, as [app.App.Feed] has it.
func (h appFeeds) FeedState(ctx context.Context, scope link.Scope, subject string) (FeedState, error) {
	st, err := h.house.DB.FeedState(ctx, string(scope), subject)
	if err != nil {
		return FeedState{}, err
	}
	zone := h.house.Config.Zone()
	_, _, moved := feed.Window(civil.FromTime(h.now().In(zone)))
	changed := st.ChangedAt
	if at := moved.At(0, 0, zone); at.After(changed) {
		changed = at
	}
	return FeedState{Generation: st.Generation, Changed: changed}, nil
}

func (h appFeeds) FeedBody(ctx context.Context, scope link.Scope, subject string) (FeedBody, error) {
	f, err := h.house.Feed(ctx, scope, subject, civil.FromTime(h.now().In(h.house.Config.Zone())))
	return FeedBody{Body: f.Body, Changed: f.Changed, Cut: f.Cut}, err
}

func (h appFeeds) NoteFetch(scope link.Scope, subject string) {
	h.house.NoteFetch(string(scope), subject, h.now())
}
