package app

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/store"
)

// keyLasts is how long addresses made with a key go on working once another one
// has taken its place: longer than a customer goes without an email of ours in
// the season, and than the calendar programs ask between two looks.
const keyLasts = 90 * 24 * time.Hour

// LinkKey is a key with which addresses are made, or were.
type LinkKey struct {
	Key   []byte    `json:"key"`
	Since time.Time `json:"since"` // zero for the one that the shop began with
}

// linkKeys are the keys that addresses are read with, the newest first.
func linkKeys(ctx context.Context, db *store.Reader, first []byte) ([]LinkKey, error) {
	kept, err := db.Setting(ctx, store.SettingLinkKeys)
	if isNotFound(err) {
		return []LinkKey{{Key: first}}, nil
	}
	if err != nil {
		return nil, err
	}
	var all []LinkKey
	if err := json.Unmarshal(kept, &all); err != nil || len(all) == 0 {
		return nil, fmt.Errorf("setting %q cannot be read: %w", store.SettingLinkKeys, err)
	}
	return all, nil
}

func olderThan(all []LinkKey) (older [][]byte) {
	for _, k := range all[1:] {
		older = append(older, k.Key)
	}
	return older
}

// LinkKeys are the keys that addresses are read with, the newest first.
func (a *App) LinkKeys(ctx context.Context) ([]LinkKey, error) {
	first, err := secret(ctx, a.db)
	if err != nil {
		return nil, err
	}
	return linkKeys(ctx, a.DB, first)
}

// KeyEnds is when addresses made with a key stop working, given the next newer
// one.
func KeyEnds(newer *LinkKey) time.Time { return newer.Since.Add(keyLasts) }

// RenewKey makes a new key for the addresses of calendars, customers' pages, stop
// links and bounces. Emails and calendars carry the new ones from now on; the old
// ones go on working for 90 days, or with atOnce not at all any more.
func (a *App) RenewKey(ctx context.Context, now time.Time, actor string, atOnce bool) error {
	all, err := a.LinkKeys(ctx)
	if err != nil {
		return err
	}
	if atOnce {
		all = nil
	}
	fresh := LinkKey{Key: make([]byte, 32), Since: now.UTC().Truncate(time.Second)}
	if _, err := rand.Read(fresh.Key); err != nil {
		return fmt.Errorf("make the key of the links: %w", err)
	}
	if err := a.setKeys(ctx, now, actor, append([]LinkKey{fresh}, all...)); err != nil {
		return err
	}
	const batch = 1000
	for after := ""; ; {
		boats, err := a.DB.Boats(ctx, after, batch)
		if err != nil || len(boats) == 0 {
			return err
		}
		ids := make([]string, len(boats))
		for i := range boats {
			ids[i] = boats[i].ID
		}
		if err := a.Publish(ctx, now, a.Day(now), ids); err != nil {
			return err
		}
		after = ids[len(ids)-1]
	}
}

func (a *App) setKeys(ctx context.Context, now time.Time, actor string, all []LinkKey) error {
	text, err := json.Marshal(all)
	if err != nil {
		return err
	}
	if err := a.db.SetLinkKeys(ctx, now, actor, text); err != nil {
		return err
	}
	return a.useKeys(text, all)
}

// useKeys makes and reads addresses by these keys from now on.
func (a *App) useKeys(text []byte, all []LinkKey) error {
	if err := a.addresses.Use(all[0].Key, olderThan(all)...); err != nil {
		return err
	}
	if a.verp != nil {
		if err := a.verp.Use(all[0].Key, olderThan(all)...); err != nil {
			return err
		}
	}
	a.keysInUse = text
	return nil
}

// keysTick forgets keys whose time is over, and takes over what a command has
// changed beside the daemon.
func (a *App) keysTick(ctx context.Context, now time.Time) error {
	text, err := a.DB.Setting(ctx, store.SettingLinkKeys)
	if isNotFound(err) {
		return nil
	}
	if err != nil {
		return err
	}
	all, err := a.LinkKeys(ctx)
	if err != nil {
		return err
	}
	for i := 1; i < len(all); i++ {
		if !now.Before(KeyEnds(&all[i-1])) {
			return a.setKeys(ctx, now, "the program", all[:i])
		}
	}
	if bytes.Equal(text, a.keysInUse) {
		return nil
	}
	return a.useKeys(text, all)
}
