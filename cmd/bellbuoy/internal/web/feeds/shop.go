package feeds

import (
	"context"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule/civil"
)

type shop struct {
	app *app.App
	now func() time.Time
}

// OfShop takes feeds from the shop's file, as of the shop's own day.
func OfShop(a *app.App, now func() time.Time) Source { return shop{a, now} }

// State has the window's last move for the moment of change if that is the
// later one, as [app.App.Feed] has it.
func (s shop) State(ctx context.Context, scope link.Scope, subject string) (State, error) {
	st, err := s.app.DB.FeedState(ctx, string(scope), subject)
	if err != nil {
		return State{}, err
	}
	zone := s.app.Config.Zone()
	_, _, moved := feed.Window(civil.FromTime(s.now().In(zone)))
	changed := st.ChangedAt
	if at := moved.At(0, 0, zone); at.After(changed) {
		changed = at
	}
	return State{Generation: st.Generation, Changed: changed}, nil
}

func (s shop) Body(ctx context.Context, scope link.Scope, subject string) (Body, error) {
	f, err := s.app.Feed(ctx, scope, subject, civil.FromTime(s.now().In(s.app.Config.Zone())))
	return Body{Body: f.Body, Changed: f.Changed, Cut: f.Cut}, err
}

func (s shop) NoteFetch(scope link.Scope, subject string) {
	s.app.NoteFetch(string(scope), subject, s.now())
}
