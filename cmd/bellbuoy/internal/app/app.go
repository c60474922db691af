// Package app is what the shop can do: every command, page and turn of the
// daemon acts through it. It joins the rooms that do not know each other (store,
// schedule, notify): it plans the boats whose facts changed, puts the visits into
// the shop's weeks, publishes the calendars and queues the messages, and decides
// nothing that belongs to one of those rooms. It is told the time and never asks
// for it.
//
// Whatever changes the shop is a method of App and goes one way (change.go). What
// follows on a change of facts, by day:
//
//	Settle -> act -> store marks its boats -> Settle -> Planner.Plan, for each of them
//	                                             |-> level.Place: their visits into the week loads
//	                                             |-> level.Fit, only if one finds no room in time
//	                                             '-> Publish: the calendar events that changed
//	              -> Tell: what the customer must hear of it at once
//
// Every night Settle plans all boats for the new day and level.Fit fills all
// weeks; after an import it plans the boats that the files changed.
package app

import (
	"context"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/notify/bounce"
	"bellbuoy/notify/link"
	"bellbuoy/notify/message"
	"bellbuoy/schedule"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/imports"
)

// App is a shop that is open for work: its settings, its catalogue, its
// planner and its database.
type App struct {
	Config    *config.Config
	Planner   *schedule.Planner
	DB        *store.Reader        // what commands and pages see of the file
	Log       *slog.Logger         // of what goes wrong beside an act that stands
	Progress  func(boats int)      // called while an act has many boats planned, nil for nobody to watch
	Away      func() (back func()) // called while a turn waits for another machine, nil for nobody to use the time
	MaySend   func() bool          // whether this process has the shop's lease; nil where the settings name none
	Elsewhere func() bool          // whether another process runs the shop now, by its lease; nil where the settings name none

	db            *store.DB
	addresses     *link.Maker
	keysInUse     []byte            // what the setting said when the tick last looked
	renderer      *message.Renderer // nil while the settings name no sender
	verp          *bounce.VERP      // nil while the settings have no domain for return addresses
	assignmentKey []byte            // see lot

	asking      sync.Mutex // held while weather services are asked
	atRiskMu    sync.Mutex
	atRisk      map[string]knownAtRisk // by place
	settling    sync.Mutex             // held while plans, weeks and feeds are brought up to date
	unpublished []string               // boats whose calendars the last turn found unwritten, in order of their ids; settling guards it
	saving      *sync.Mutex            // held while settings are read or written again; one for the shop
	fetched     fetches
	took        tookKept // see workTook
	printOnce   sync.Once
	print       string // see fingerprint
}

// Catalogue is the built-in one with the shop's own rules over it.
func Catalogue(c *config.Config) (*rules.Catalogue, error) {
	base, err := rules.Default()
	if err != nil {
		return nil, err
	}
	if c.Files.Rules == "" {
		return priced(base, c)
	}
	path := c.Path(c.Files.Rules)
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("settings: files.rules: %w", err)
	}
	own, err := rules.Parse(path, data)
	if err != nil {
		return nil, err
	}
	return priced(base.Extend(own), c)
}

// priced puts the settings' prices into the catalogue.
func priced(cat *rules.Catalogue, c *config.Config) (*rules.Catalogue, error) {
	prices := make(map[string]measure.Cents, len(c.Prices))
	for _, p := range c.Prices {
		if _, known := cat.Rule(p.Rule); !known {
			return nil, fmt.Errorf("settings: price of %q: the catalog has no such job; \"bellbuoy rules list\" has the codes", p.Rule)
		}
		prices[p.Rule] = p.Cents()
	}
	return cat.Priced(prices), nil
}

// newPlanner plans by the shop's rules and settings and words reasons by its own
// phrases.
func newPlanner(c *config.Config) (*schedule.Planner, error) {
	cat, err := Catalogue(c)
	if err != nil {
		return nil, err
	}
	set := c.Settings()
	if set.Texts, err = ownTexts(c); err != nil {
		return nil, err
	}
	return schedule.NewPlanner(cat, set), nil
}

// Open opens the shop's database, brings it up to date and makes its secret if
// it has none yet.
func Open(ctx context.Context, c *config.Config) (*App, error) {
	planner, err := newPlanner(c)
	if err != nil {
		return nil, err
	}
	db, err := store.Open(ctx, c.Path(c.Files.Database))
	if err != nil {
		return nil, err
	}
	a := &App{Config: c, Planner: planner, DB: db.Reader, db: db, Log: slog.Default(), saving: new(sync.Mutex)}
	if err := a.prepare(ctx); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return a, nil
}

// With is the same shop, on the same open database, by other settings. The old
// one may go on with what it has begun; only one of the two is closed.
func (a *App) With(ctx context.Context, c *config.Config) (*App, error) {
	planner, err := newPlanner(c)
	if err != nil {
		return nil, err
	}
	n := &App{Config: c, Planner: planner, DB: a.DB, db: a.db, Log: a.Log, Away: a.Away, MaySend: a.MaySend, Elsewhere: a.Elsewhere, saving: a.saving}
	return n, n.prepare(ctx)
}

// prepare makes what the app writes addresses and letters with.
func (a *App) prepare(ctx context.Context) error {
	key, err := secret(ctx, a.db)
	if err != nil {
		return err
	}
	links, err := linkKeys(ctx, a.DB, key)
	if err != nil {
		return err
	}
	if a.addresses, err = link.NewMaker(links[0].Key, olderThan(links)...); err != nil {
		return err
	}
	if a.assignmentKey, err = hkdf.Key(sha256.New, key, nil, "bellbuoy lots 1", sha256.Size); err != nil {
		return fmt.Errorf("key of the lots: %w", err)
	}
	if d := a.Config.Mail.BounceDomain; d != "" {
		if a.verp, err = bounce.NewVERP(d, links[0].Key, olderThan(links)...); err != nil {
			return fmt.Errorf("settings: mail.bounce_domain: %w", err)
		}
	}
	if a.Config.Mail.From == "" {
		return nil
	}
	a.renderer, err = newRenderer(a.Config, a.Planner.Settings().Texts, key)
	return err
}

// CanMail reports whether the settings name a sender.
func (a *App) CanMail() bool { return a.renderer != nil }

// Close closes the database, once nobody waits for a weather service any more.
func (a *App) Close() error {
	a.asking.Lock()
	defer a.asking.Unlock()
	return a.db.Close()
}

// Rest gives back what a turn that read the whole file keeps in memory.
func (a *App) Rest(ctx context.Context) error { return wrap("give memory back", a.db.Shrink(ctx)) }

// Addresses reads and writes the addresses that the shop gives out.
func (a *App) Addresses() *link.Maker { return a.addresses }

// settingSecret names the setting that holds the shop's first key. Addresses are
// made with it until they get one of their own ([App.RenewKey]); lots and message
// ids stay with it.
const settingSecret = "address-key"

func secret(ctx context.Context, db *store.DB) ([]byte, error) {
	key, err := db.Setting(ctx, settingSecret)
	if err == nil && len(key) >= 32 {
		return key, nil
	}
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return nil, err
	}
	key = make([]byte, 32)
	if _, err := rand.Read(key); err != nil {
		return nil, fmt.Errorf("make the address key: %w", err)
	}
	return key, db.SetSetting(ctx, settingSecret, key)
}

// Facts returns a boat's facts with its place filled in.
func (a *App) Facts(ctx context.Context, boatID string) (schedule.Facts, error) {
	f, err := a.DB.Facts(ctx, boatID)
	if err != nil {
		return f, err
	}
	f.Place, err = a.Place(ctx, f.Boat.Place)
	return f, err
}

// View returns a boat's stored plan in words for the shop, in English.
func (a *App) View(ctx context.Context, boatID string) (schedule.BoatView, error) {
	return a.ViewIn(ctx, boatID, words.English)
}

// ViewIn is [App.View] in a customer's language, one of [texts.Languages].
func (a *App) ViewIn(ctx context.Context, boatID, language string) (schedule.BoatView, error) {
	f, plan, err := a.DB.Planned(ctx, boatID)
	if err != nil {
		return schedule.BoatView{}, err
	}
	places, err := a.placesIn(ctx, language)
	if err != nil {
		return schedule.BoatView{}, err
	}
	f.Place = places.Of(f.Boat.Place)
	return a.Planner.ViewIn(language, &f, &plan), nil
}

func isNotFound(err error) bool { return errors.Is(err, store.ErrNotFound) }

// Known are the words that an intake may use.
func (a *App) Known() imports.Known {
	c := a.Planner.Catalogue()
	k := imports.Known{Services: c.ServiceCodes(), Places: a.Config.PlaceNames()}
	for _, code := range k.Services {
		if onlyEngines(c, code) {
			k.Metered = append(k.Metered, code)
		}
	}
	return k
}

// onlyEngines reports whether every rule of a service is about engines.
func onlyEngines(c *rules.Catalogue, service string) bool {
	found := false
	for i := range c.Rules {
		if c.Rules[i].Service == service {
			if found = c.Rules[i].Component == "engine"; !found {
				return false
			}
		}
	}
	return found
}

// IntakeBy are the usual options of an intake, done by somebody.
func IntakeBy(actor string) imports.IntakeOptions { return imports.IntakeOptions{Actor: actor} }

// OwnerOf returns the present owner of a boat, an empty customer while the shop
// has it.
func (a *App) OwnerOf(ctx context.Context, boatID string) (schedule.Customer, error) {
	c, err := a.DB.OwnerOf(ctx, boatID)
	if isNotFound(err) {
		return schedule.Customer{}, nil
	}
	return c, err
}

// NoShopYet reports whether the database holds nobody and no boat, or is not
// there.
func NoShopYet(ctx context.Context, path string) (bool, error) {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return true, nil
	}
	db, err := store.Open(ctx, path)
	if err != nil {
		return false, err
	}
	defer db.Close()
	customers, err := db.Customers(ctx, "", 1)
	if err != nil {
		return false, err
	}
	boats, err := db.Boats(ctx, "", 1)
	return len(customers)+len(boats) == 0, err
}
