package app

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// Publish works out the calendar events of some boats and writes down those
// that changed, each with the moment it did. What an unchanged plan says stays
// the same to the byte.
func (a *App) Publish(ctx context.Context, now time.Time, today civil.Day, boatIDs []string) error {
	g, ctx := errgroup.WithContext(ctx)
	ready := make(chan []store.BoatEvents) // the next boats are read while these are written
	g.Go(func() error {
		defer close(ready)
		for part := range slices.Chunk(unique(boatIDs), Batch) {
			events, err := a.eventsOf(ctx, today, part)
			if err != nil {
				return err
			}
			select {
			case ready <- events:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	g.Go(func() error {
		for events := range ready {
			if _, err := a.db.SyncEvents(ctx, now, events...); err != nil {
				return err
			}
		}
		return nil
	})
	return g.Wait()
}

// publishLeft writes the calendars that a change or a night left unwritten as it was
// stopped. Whoever is at work writes its own within the minute, so only what two
// turns in a row have seen is written.
func (a *App) publishLeft(ctx context.Context, now time.Time, today civil.Day) error {
	a.settling.Lock()
	defer a.settling.Unlock()
	left, err := a.DB.Unpublished(ctx)
	before := a.unpublished
	a.unpublished = left
	if err != nil {
		return err
	}
	return a.Publish(ctx, now, today, slices.DeleteFunc(slices.Clone(left), func(id string) bool {
		_, seen := slices.BinarySearch(before, id)
		return !seen
	}))
}

// eventsOf makes the calendar events of some boats, in their order.
func (a *App) eventsOf(ctx context.Context, today civil.Day, boatIDs []string) ([]store.BoatEvents, error) {
	events := make([]store.BoatEvents, len(boatIDs))
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(2) // of the few that read a shop's file; the others are for its pages
	for i, id := range boatIDs {
		g.Go(func() (err error) {
			if events[i], err = a.events(ctx, today, id); err != nil {
				return fmt.Errorf("calendar of boat %q: %w", id, err)
			}
			return nil
		})
	}
	return events, g.Wait()
}

// events makes one boat's calendar events from its stored plan.
func (a *App) events(ctx context.Context, today civil.Day, boatID string) (store.BoatEvents, error) {
	out := store.BoatEvents{BoatID: boatID}
	owner, err := a.OwnerOf(ctx, boatID)
	if err != nil {
		return out, err
	}
	links, err := a.feedLinks(ctx, owner.ID)
	if err != nil {
		return out, err
	}
	view, err := a.View(ctx, boatID)
	if err != nil {
		return out, err
	}
	// Nothing more is told about a boat whose owner says that it is sold.
	sold, err := a.DB.SoldBoat(ctx, boatID)
	if err != nil || sold || view.Boat.Gone != 0 && view.Boat.Gone <= today {
		return out, err
	}
	declined, err := a.DB.DeclinedVisits(ctx, []string{boatID})
	if err != nil {
		return out, err
	}
	in := func(language string) ([]feed.Event, error) {
		if language != words.English {
			if view, err = a.ViewIn(ctx, boatID, language); err != nil {
				return nil, err
			}
		}
		view.Visits = slices.DeleteFunc(view.Visits, func(v schedule.VisitView) bool { return declined[v.Visit.ID] && !v.Visit.Booked() })
		return feed.BoatEvents(a.feedShop(language), view.ForOwner(), links, today), nil
	}
	english, err := in(words.English)
	if err != nil {
		return out, err
	}
	events := english
	if language := a.Language(&owner); language != words.English {
		if events, err = in(language); err != nil {
			return out, err
		}
	}
	for i := range events {
		e := &events[i]
		lines, err := e.Lines()
		if err != nil {
			return out, err
		}
		s := store.Event{UID: e.UID, Hash: lines.Hash(), Start: startOf(e, a.Config.Zone()), Render: lines.Render}
		if desk := &english[i]; desk != e { // the desk's calendar is in English
			if lines, err = desk.Lines(); err != nil {
				return out, err
			}
			s.Hash, s.Desk = s.Hash+" "+lines.Hash(), lines.Render
		}
		out.Events = append(out.Events, s)
	}
	return out, nil
}

// startOf is the civil day on which an event begins by the shop's clock.
func startOf(e *feed.Event, zone *time.Location) civil.Day {
	if e.At.IsZero() {
		return e.Start
	}
	return civil.FromTime(e.At.In(zone))
}

// feedLinks are the addresses written into a boat's events: its owner's own
// page, or nothing while nobody, "", owns it.
func (a *App) feedLinks(ctx context.Context, ownerID string) (feed.Links, error) {
	if ownerID == "" {
		return feed.Links{}, nil
	}
	my, err := a.MyURL(ctx, ownerID)
	if err != nil {
		return feed.Links{}, err
	}
	return feed.Links{
		Visit: func(id string) string { return my + "/visit/" + url.PathEscape(id) },
		Boat:  my,
	}, nil
}

func (a *App) feedShop(language string) feed.Shop {
	c, t := a.Config, a.Planner.Settings().Texts.In(language)
	return feed.Shop{Name: c.Shop.Name, Address: c.Shop.Address, Host: c.Host(), Format: c.Format().In(t.Language()), Texts: t, Zone: c.Zone(), BusyDays: c.Calendar.BookedDayBusy}
}

// FeedURL is the address of a feed under its present generation.
func (a *App) FeedURL(ctx context.Context, scope link.Scope, subject string) (string, error) {
	token, err := a.token(ctx, link.PurposeFeed, scope, subject)
	return a.Config.Shop.URL + "/cal/" + token + ".ics", err
}

// MyURL is the address of a customer's own page.
func (a *App) MyURL(ctx context.Context, customerID string) (string, error) {
	token, err := a.token(ctx, link.PurposeMy, link.ScopeCustomer, customerID)
	return a.Config.Shop.URL + "/my/" + token, err
}

// StopURL is the address at which a customer stops the reminders.
func (a *App) StopURL(ctx context.Context, customerID string) (string, error) {
	token, err := a.token(ctx, link.PurposeStop, link.ScopeCustomer, customerID)
	return a.Config.Shop.URL + "/stop/" + token, err
}

func (a *App) token(ctx context.Context, p link.Purpose, scope link.Scope, subject string) (string, error) {
	st, err := a.DB.FeedState(ctx, string(scope), subject)
	if err != nil {
		return "", err
	}
	return a.addresses.Token(p, link.Target{Scope: scope, Subject: subject, Generation: st.Generation})
}

// Feed is a calendar ready to be served, with the moment it last changed.
type Feed struct {
	Body    []byte
	Changed time.Time
	Cut     int // events left off because the feed was full
}

// Feed puts a stored feed together for a day.
func (a *App) Feed(ctx context.Context, scope link.Scope, subject string, today civil.Day) (Feed, error) {
	from, to, moved := feed.Window(today)
	if scope == link.ScopeDesk {
		from, to = deskWindow(moved)
	}
	events, changed, err := a.DB.FeedEvents(ctx, string(scope), subject, from, to, feed.MaxEvents+1)
	if err != nil {
		return Feed{}, err
	}
	head, err := a.feedHead(ctx, scope, subject)
	if err != nil {
		return Feed{}, err
	}
	for i := 0; i < len(events) && scope == link.ScopeDesk; i++ {
		if events[i], err = feed.DeskEvent(a.Planner.Settings().Texts.In(words.English), events[i]); err != nil {
			return Feed{}, err
		}
	}
	cal, err := feed.Calendar(head, events)
	if err != nil {
		return Feed{}, err
	}
	if at := moved.At(0, 0, a.Config.Zone()); at.After(changed) {
		changed = at
	}
	return Feed{Body: cal.Body, Changed: changed, Cut: cal.Cut}, nil
}

// feedHead is what a calendar says about itself, in the language of its reader.
func (a *App) feedHead(ctx context.Context, scope link.Scope, subject string) (feed.Head, error) {
	var owner schedule.Customer
	var boat schedule.Boat
	var err error
	language := words.English
	switch scope {
	case link.ScopeBoat:
		if boat, err = a.DB.Boat(ctx, subject); err == nil {
			owner, err = a.OwnerOf(ctx, subject)
		}
		language = a.Language(&owner)
	case link.ScopeCustomer:
		owner, err = a.DB.Customer(ctx, subject)
		language = a.Language(&owner)
	}
	if err != nil {
		return feed.Head{}, err
	}
	t := a.Planner.Settings().Texts.In(language)
	head := feed.Head{Description: t.Say("calendar.about"), None: t.Say("calendar.none"), Name: "All visits, " + a.Config.Shop.Name}
	switch scope {
	case link.ScopeBoat:
		head.Name = t.Say("calendar.boat", "boat", boat.Title())
	case link.ScopeCustomer:
		head.Name = t.Say("calendar.shop", "shop", a.Config.Shop.Name)
	}
	return head, nil
}

// deskWindow is what the desk's feed shows: every boat, but only the months
// that a shop plans by, so that one feed holds them.
func deskWindow(moved civil.Day) (from, to civil.Day) {
	return moved.AddMonths(-1), moved.AddMonths(4) - 1
}

// unique drops repeated ids and keeps their order.
func unique(ids []string) []string {
	seen := make(map[string]bool, len(ids))
	out := ids[:0:0]
	for _, id := range ids {
		if !seen[id] {
			seen[id] = true
			out = append(out, id)
		}
	}
	return out
}
