package app

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"time"

	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// Publish works out the calendar events of some boats and writes down those
// that changed, each with the moment it did. What an unchanged plan says stays
// the same to the byte.
func (h *App) Publish(ctx context.Context, now time.Time, today civil.Day, boatIDs []string) error {
	for part := range slices.Chunk(unique(boatIDs), Batch) {
		events := make([]store.BoatEvents, 0, len(part))
		for _, id := range part {
			e, err := h.events(ctx, today, id)
			if err != nil {
				return fmt.Errorf("calendar of boat %q: %w", id, err)
			}
			events = append(events, e)
		}
		if _, err := h.db.SyncEvents(ctx, now, events...); err != nil {
			return err
		}
	}
	return nil
}

// events makes one boat's calendar events from its stored plan.
func (h *App) events(ctx context.Context, today civil.Day, boatID string) (store.BoatEvents, error) {
	out := store.BoatEvents{BoatID: boatID}
	view, err := h.View(ctx, boatID)
	if err != nil {
		return out, err
	}
	links, err := h.feedLinks(ctx, boatID)
	if err != nil {
		return out, err
	}
	// Nothing more is told about a boat whose owner says that it is sold.
	sold, err := h.DB.SoldBoat(ctx, boatID)
	if err != nil || sold || view.Boat.Gone != 0 && view.Boat.Gone <= today {
		return out, err
	}
	declined, err := h.DB.DeclinedVisits(ctx, []string{boatID})
	if err != nil {
		return out, err
	}
	view.Visits = slices.DeleteFunc(view.Visits, func(v schedule.VisitView) bool { return declined[v.Visit.ID] && !v.Visit.Booked() })
	events := feed.BoatEvents(h.feedShop(), view.ForOwner(), links, today)
	for i := range events {
		e := &events[i]
		out.Events = append(out.Events, store.Event{UID: e.UID, Hash: e.Hash(), Start: startOf(e, h.Config.Zone()), Render: e.Render})
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
// page, or nothing while nobody owns it.
func (h *App) feedLinks(ctx context.Context, boatID string) (feed.Links, error) {
	owner, err := h.DB.OwnerOf(ctx, boatID)
	if isNotFound(err) || owner.ID == "" && err == nil {
		return feed.Links{}, nil
	}
	if err != nil {
		return feed.Links{}, err
	}
	my, err := h.MyURL(ctx, owner.ID)
	if err != nil {
		return feed.Links{}, err
	}
	return feed.Links{
		Visit: func(id string) string { return my + "/visit/" + url.PathEscape(id) },
		Boat:  my,
	}, nil
}

func (h *App) feedShop() feed.Shop {
	c := h.Config
	return feed.Shop{Name: c.Shop.Name, Address: c.Shop.Address, Host: c.Host(), Format: c.Format(), Zone: c.Zone(), BusyDays: c.Calendar.BookedDayBusy}
}

// FeedURL is the address of a feed under its present generation.
func (h *App) FeedURL(ctx context.Context, scope link.Scope, subject string) (string, error) {
	token, err := h.token(ctx, link.PurposeFeed, scope, subject)
	return h.Config.Shop.URL + "/cal/" + token + ".ics", err
}

// MyURL is the address of a customer's own page.
func (h *App) MyURL(ctx context.Context, customerID string) (string, error) {
	token, err := h.token(ctx, link.PurposeMy, link.ScopeCustomer, customerID)
	return h.Config.Shop.URL + "/my/" + token, err
}

// StopURL is the address at which a customer stops the reminders.
func (h *App) StopURL(ctx context.Context, customerID string) (string, error) {
	token, err := h.token(ctx, link.PurposeStop, link.ScopeCustomer, customerID)
	return h.Config.Shop.URL + "/stop/" + token, err
}

func (h *App) token(ctx context.Context, p link.Purpose, scope link.Scope, subject string) (string, error) {
	st, err := h.DB.FeedState(ctx, string(scope), subject)
	if err != nil {
		return "", err
	}
	return h.addresses.Token(p, link.Target{Scope: scope, Subject: subject, Generation: st.Generation})
}

// Feed is a calendar ready to be served, with the moment it last changed.
type Feed struct {
	Body    []byte
	Changed time.Time
	Cut     int // events left off because the feed was full
}

// Feed puts a stored feed together for a day.
func (h *App) Feed(ctx context.Context, scope link.Scope, subject string, today civil.Day) (Feed, error) {
	from, to, moved := feed.Window(today)
	if scope == link.ScopeDesk {
		from, to = deskWindow(moved)
	}
	events, changed, err := h.DB.FeedEvents(ctx, string(scope), subject, from, to, feed.MaxEvents+1)
	if err != nil {
		return Feed{}, err
	}
	head := feed.Head{Description: "What is planned and booked. A week that is not booked is a proposal, an amount is an estimate."}
	switch scope {
	case link.ScopeBoat:
		var b schedule.Boat
		if b, err = h.DB.Boat(ctx, subject); err == nil {
			head.Name = b.Title() + ", boat service"
		}
	case link.ScopeCustomer:
		head.Name = "Boat service, " + h.Config.Shop.Name
	default:
		head.Name = "All visits, " + h.Config.Shop.Name
		for i := 0; i < len(events) && err == nil; i++ {
			events[i], err = feed.DeskEvent(events[i])
		}
	}
	if err != nil {
		return Feed{}, err
	}
	cal, err := feed.Calendar(head, events)
	if err != nil {
		return Feed{}, err
	}
	if at := moved.At(0, 0, h.Config.Zone()); at.After(changed) {
		changed = at
	}
	return Feed{Body: cal.Body, Changed: changed, Cut: cal.Cut}, nil
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
