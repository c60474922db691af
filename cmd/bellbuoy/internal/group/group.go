// Package group is what shops of one owner do together: figures side by side, stops
// that hold in all of them. Shops that are open go in; it changes each of them
// through its own [app.App] and reads no file. Customers of one shop are shown to
// nobody of another. A newcomer may add a figure: a field of [figures.Standing].
package group

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/figures"
)

// Group is shops that belong together.
type Group struct {
	config.Group
	// Members are its shops as they are open now, in the order of the settings.
	Members func() []Member

	mu    sync.Mutex
	known map[string]known // by folder
}

// Member is one of the shops.
type Member struct {
	Folder string
	App    *app.App // nil while it is not open
}

// known are figures, and the state of the shop that they hold for.
type known struct {
	state    string
	standing *figures.Standing
}

// Owned reports whether an account of a shop, which is an owner's there, is named as
// one of the group's owners.
func (g *Group) Owned(folder, name string) bool {
	return slices.Contains(g.Owners, config.GroupOwner{Shop: folder, Name: name})
}

// Side is one shop beside the others.
type Side struct {
	Member
	Standing *figures.Standing // nil while the shop is not open or its books cannot be read
	Fault    error             // why they cannot
}

// Sides counts how each shop stands. What was counted before is taken again while
// nothing changes in that shop.
func (g *Group) Sides(ctx context.Context, now time.Time) []Side {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.known == nil {
		g.known = make(map[string]known)
	}
	members := g.Members()
	sides, counted := make([]Side, len(members)), make([]known, len(members))
	var each errgroup.Group
	each.SetLimit(2) // a page of figures leaves room for the others
	for i, m := range members {
		sides[i].Member = m
		if m.App == nil {
			continue
		}
		before := g.known[m.Folder]
		each.Go(func() error {
			counted[i], sides[i].Fault = m.count(ctx, now, before)
			return nil
		})
	}
	_ = each.Wait() // each has its own fault
	for i, m := range members {
		if sides[i].Standing = counted[i].standing; sides[i].Standing != nil {
			g.known[m.Folder] = counted[i]
		}
	}
	return sides
}

// count counts how a shop stands, unless it stands as before.
func (m Member) count(ctx context.Context, now time.Time, before known) (known, error) {
	mark, err := m.App.DB.ChangeMark(ctx)
	if err != nil {
		return known{}, err
	}
	today := m.App.Day(now)
	state := fmt.Sprintf("%s %s %p", mark, today, m.App)
	if state == before.state {
		return before, nil
	}
	l, err := figures.Open(ctx, m.App, today)
	if err != nil {
		return known{}, err
	}
	standing, err := l.Standing(ctx)
	if err != nil {
		return known{}, err
	}
	return known{state, standing}, nil
}

// Alike reports whether all shops that were counted have the same of something.
func Alike(sides []Side, of func(*config.Config) string) bool {
	found := make(map[string]bool)
	for _, s := range sides {
		if s.Standing != nil {
			found[of(s.App.Config)] = true
		}
	}
	return len(found) < 2
}
