package main_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// wing is what a wing of the site may import.
var wing = []string{"schedule", "notify", "store", "cmd/bellbuoy/internal/app", "cmd/bellbuoy/internal/config", "cmd/bellbuoy/internal/chart", "cmd/bellbuoy/internal/web/site"}

// rooms lists, for each room, which of our own rooms it may import and why the
// rest is closed to it. A room is a folder; "schedule/" stands for the leaves,
// "=notify" for notify without the rooms in it.
var rooms = []struct {
	dir    string
	may    []string
	reason string
}{
	{"schedule/civil", nil, "days are the bottom of everything"},
	{"schedule/measure", nil, "quantities are the bottom of everything"},
	{"schedule/rules", []string{"schedule/civil", "schedule/measure"}, "a leaf: the catalogue knows no boats"},
	{"schedule/forecast", []string{"schedule/civil"}, "a leaf: plain numbers and days"},
	{"schedule/climate", []string{"schedule/civil", "schedule/words"}, "a leaf: plain numbers and days"},
	{"schedule/climate/watch", []string{"schedule/civil"}, "a leaf: plain numbers, days and instants"},
	{"schedule/level", []string{"schedule/civil", "schedule/words"}, "plain numbers and days"},
	{"schedule/compression", nil, "a leaf: plain numbers"},
	{"schedule/hin", nil, "a leaf: plain text"},
	{"schedule/words", []string{"schedule/civil", "schedule/measure"}, "a leaf: plain values in, text out"},
	{"schedule/texts", nil, "a leaf: keys in, sentences out"},
	{"schedule/returns", []string{"schedule/civil", "schedule/measure"}, "a leaf: plain numbers and days"},
	{"schedule", []string{"schedule/"}, "the domain stands on its leaves only"},
	{"notify/internal/refusal", nil, "a leaf: send and bounce read a refusal alike"},
	{"notify/internal/fixture", []string{"schedule", "notify", "notify/message"}, "for the tests of notify and its rooms"},
	{"notify/link", nil, "a leaf: a secret and an id in, a token out"},
	{"notify/feed", []string{"schedule"}, "calendars are made from the plan; emails and who gets them are other rooms"},
	{"notify/send", []string{"schedule", "notify/internal/refusal"}, "it carries bytes and knows neither what they say nor who keeps them"},
	{"notify/lease", []string{"schedule/words"}, "it says who may send and knows nothing of what"},
	{"notify/bounce", []string{"schedule", "=notify", "notify/internal/refusal"}, "it reads what came back; of notify it takes the check of an address"},
	{"notify/message", []string{"schedule", "=notify"}, "it words notices and knows neither calendars nor the way to the server"},
	{"notify", []string{"schedule"}, "who hears what is decided from facts, wherever those are kept"},
	{"store/internal/kernel", []string{"schedule", "store/internal/match"}, "the bottom of the store"},
	{"store/internal/csvrows", nil, "a leaf: text in, cells out"},
	{"store/internal/match", []string{"schedule/hin"}, "a leaf: plain text"},
	{"store/internal/tables", []string{"schedule", "store/internal/"}, "rows of tables, whatever is done with them"},
	{"store/outbox", []string{"schedule", "=store", "store/internal/"}, "letters are kept, not made or sent"},
	{"store/archive", []string{"schedule", "=store", "store/internal/", "store/outbox", "store/imports/columns"}, "the file as a whole"},
	{"store/report", []string{"schedule", "=store", "store/internal/"}, "reads, and leaves the meaning to the figures"},
	{"store/freeze", []string{"schedule", "=store", "store/internal/kernel"}, "rows of judgements that others make"},
	{"store/accounts", []string{"=store", "store/internal/kernel"}, "names, roles and hashes, nothing of the shop"},
	{"store/emptyshop", []string{"=store"}, "for tests"},
	{"store/storetest", []string{"schedule", "store"}, "for the tests of the store's rooms"},
	{"store/duplicates", []string{"schedule", "=store", "store/internal/"}, "two rows that are one, and people to forget"},
	{"store/imports/sheet", []string{"store/internal/csvrows"}, "files in, tables of cells out"},
	{"store/imports/columns", []string{"schedule", "store/internal/"}, "cells in, typed rows out and back; what they mean to the shop is the import's"},
	{"store/imports/mapping", []string{"schedule", "store/imports/sheet"}, "cells in, fields out; it knows no store"},
	{"store/imports", []string{"schedule", "=store", "store/internal/", "store/duplicates"}, "files to facts"},
	{"store", []string{"schedule"}, "the store keeps facts and knows nothing of mail"},
	{"schedule/testkit", []string{"schedule/civil"}, "for the tests of every room"},
	{"cmd/bellbuoy/internal/weather", []string{"schedule"}, "it asks weather services and knows no shop"},
	{"cmd/bellbuoy/internal/app", []string{"schedule", "notify", "store", "cmd/bellbuoy/internal/config", "cmd/bellbuoy/internal/mailbox", "cmd/bellbuoy/internal/weather"}, "the use cases know no page and no command"},
	{"cmd/bellbuoy/internal/figures", []string{"schedule", "notify", "store", "cmd/bellbuoy/internal/app"}, "the owner's figures stand on the use cases"},
	{"cmd/bellbuoy/internal/group", []string{"schedule", "notify", "store", "cmd/bellbuoy/internal/app", "cmd/bellbuoy/internal/config", "cmd/bellbuoy/internal/figures"}, "what shops do together stands on the use cases of each"},
	{"cmd/bellbuoy/internal/web/feeds", []string{"schedule/civil", "notify/link", "notify/feed", "store", "cmd/bellbuoy/internal/app"}, "it answers calendar addresses and knows no page"},
	{"cmd/bellbuoy/internal/web/site", []string{"schedule", "notify", "store", "cmd/bellbuoy/internal/app", "cmd/bellbuoy/internal/group", "cmd/bellbuoy/internal/config", "cmd/bellbuoy/internal/chart", "cmd/bellbuoy/internal/mailsink", "cmd/bellbuoy/internal/web/feeds"}, "the frame knows no wing"},
	{"cmd/bellbuoy/internal/web/week", wing, "a wing knows no other"},
	{"cmd/bellbuoy/internal/web/boat", append(wing, "cmd/bellbuoy/internal/group"), "a wing knows no other"},
	{"cmd/bellbuoy/internal/web/people", wing, "a wing knows no other"},
	{"cmd/bellbuoy/internal/web/office", wing, "a wing knows no other"},
	{"cmd/bellbuoy/internal/web/customer", wing, "a wing knows no other"},
	{"cmd/bellbuoy/internal/web/owner", append(wing, "cmd/bellbuoy/internal/figures", "cmd/bellbuoy/internal/config", "cmd/bellbuoy/internal/group"), "a wing knows no other"},
	{"cmd/bellbuoy", []string{"schedule", "notify", "store", "cmd/bellbuoy/internal/"}, "wiring"},
}

// banned are packages that would let the domain do I/O or ask the clock.
var banned = []string{"database/sql", "net", "net/http", "os", "io/fs", "log", "log/slog", "context", "math/rand", "math/rand/v2", "crypto/rand"}

// TestImportsRunOneWay reads the files themselves, so that a new file or a
// changed one is seen even when the test result was cached.
func TestImportsRunOneWay(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && path != root || d.Name() == "node_modules" || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		seen++
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		checkFile(t, path, filepath.ToSlash(rel))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 20 {
		t.Fatalf("only %d files found: the test looks in the wrong place", seen)
	}
}

func checkFile(t *testing.T, path, rel string) {
	t.Helper()
	src, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := parser.ParseFile(token.NewFileSet(), path, src, parser.ImportsOnly)
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.ToSlash(filepath.Dir(rel))
	pure := (dir == "schedule" || strings.HasPrefix(dir, "schedule/")) && dir != "schedule/testkit"
	if pure && strings.Contains(string(src), "time.Now(") {
		t.Errorf("%s asks the clock; the domain is told the day", rel)
	}
	if strings.HasPrefix(dir, "cmd/") && dir != "cmd/bellbuoy/internal/app" && strings.Contains(string(src), "store.Open(") {
		t.Errorf("%s opens the store, and could write it: commands and pages are given an app, whose DB only reads", rel)
	}
	for _, im := range f.Imports {
		name := strings.Trim(im.Path.Value, `"`)
		if pure {
			for _, b := range banned {
				if name == b {
					t.Errorf("%s imports %s: the domain does no I/O and has no clock", rel, name)
				}
			}
		}
		ours, ok := strings.CutPrefix(name, "bellbuoy/")
		if !ok {
			continue
		}
		for _, r := range rooms {
			if dir != r.dir && !strings.HasPrefix(dir, r.dir+"/") {
				continue
			}
			if !allowed(r.may, ours) && ours != r.dir && !strings.HasPrefix(ours, r.dir+"/") {
				t.Errorf("%s imports %s: %s", rel, ours, r.reason)
			}
			break // the first room that fits is the closest one
		}
	}
}

// allowed reports whether a room may import ours. A name stands for itself and
// what is under it; one with a closing slash for what is under it only, one after
// an equals sign for itself only.
func allowed(may []string, ours string) bool {
	for _, m := range may {
		if strings.HasSuffix(m, "/") && strings.HasPrefix(ours, m) || ours == strings.TrimPrefix(m, "=") || strings.HasPrefix(ours, m+"/") {
			return true
		}
	}
	return false
}
