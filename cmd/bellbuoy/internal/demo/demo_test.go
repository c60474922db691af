package demo_test

import (
	"bytes"
	"encoding/csv"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

var today = civil.Of(2026, time.November, 25)

func source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }

func shop(seed uint64) *demo.Shop { return demo.Generate(source(seed), today, 400, 6) }

// written returns the five files of a stream of parts.
func written(t testing.TB, seed uint64, boats int) map[string][]byte {
	t.Helper()
	files := map[string]*bytes.Buffer{}
	w, err := demo.NewWriter(func(name string) (io.Writer, error) {
		files[name] = &bytes.Buffer{}
		return files[name], nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for part := range demo.Parts(source(seed), today, boats, 6) {
		if err := w.Add(part); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	all := map[string][]byte{}
	for name, b := range files {
		all[name] = b.Bytes()
	}
	return all
}

func TestSameSeedSameBytes(t *testing.T) {
	one, again, other := written(t, 7, 60), written(t, 7, 60), written(t, 8, 60)
	if len(one) != 5 {
		t.Fatalf("%d files, want 5", len(one))
	}
	for name := range one {
		if !bytes.Equal(one[name], again[name]) {
			t.Errorf("%s differs between two runs with the same seed", name)
		}
		if bytes.Equal(one[name], other[name]) {
			t.Errorf("%s is the same for two seeds", name)
		}
	}
}

func TestFolderHoldsWhatTheStreamWrites(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Generate(source(7), today, 60, 6).WriteTo(dir); err != nil {
		t.Fatal(err)
	}
	for name, want := range written(t, 7, 60) {
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s in the folder differs from the streamed one", name)
		}
	}
}

func TestFilesAreRectangularCSV(t *testing.T) {
	for name, b := range written(t, 3, 200) {
		rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if len(rows) < 100 {
			t.Errorf("%s: only %d rows", name, len(rows))
		}
	}
}

func TestFolderThatIsMissingIsNamed(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "nowhere")
	if err := shop(1).WriteTo(dir); err == nil || !strings.Contains(err.Error(), dir) {
		t.Errorf("error %v does not name %s", err, dir)
	}
}

func TestEverythingRefersToWhatIsThere(t *testing.T) {
	s := shop(1)
	customers, boats, components := map[string]bool{}, map[string]bool{}, map[string]string{}
	for _, c := range s.Customers {
		if customers[c.ID] {
			t.Errorf("customer %s twice", c.ID)
		}
		customers[c.ID] = true
	}
	lines := map[[2]string]bool{}
	for _, b := range s.Boats {
		key := [2]string{b.ID, b.CustomerID}
		if lines[key] || (b.CustomerID != "" && !customers[b.CustomerID]) {
			t.Errorf("boat %s of customer %s: twice, or nobody", b.ID, b.CustomerID)
		}
		lines[key], boats[b.ID] = true, true
	}
	if len(boats) != 400 {
		t.Errorf("%d hulls, want 400", len(boats))
	}
	for _, c := range s.Components {
		if components[c.ID] != "" || !boats[c.BoatID] {
			t.Errorf("component %s of boat %s: twice, or no boat", c.ID, c.BoatID)
		}
		components[c.ID] = c.BoatID
	}
	for _, r := range s.Records {
		if !boats[r.BoatID] || (r.ComponentID != "" && components[r.ComponentID] != r.BoatID) {
			t.Errorf("record %+v refers to nothing", r)
		}
	}
	for _, r := range s.Readings {
		if components[r.ComponentID] == "" {
			t.Errorf("reading %+v refers to nothing", r)
		}
	}
}

func TestWordsAreFromTheClosedLists(t *testing.T) {
	places := map[string]bool{}
	for _, p := range demo.Places() {
		places[p.Name] = true
	}
	in := func(t *testing.T, field, word string, list []string) {
		t.Helper()
		if !slices.Contains(list, word) {
			t.Errorf("%s %q is not one of %q", field, word, list)
		}
	}
	s := shop(2)
	for _, c := range s.Customers {
		in(t, "contact_by", c.ContactBy, schedule.ContactWays)
	}
	for _, b := range s.Boats {
		in(t, "kind", b.Kind, schedule.BoatKinds)
		in(t, "water", b.Water, schedule.Waters)
		in(t, "berth", b.Berth, schedule.Berths)
		if !places[b.Place] {
			t.Errorf("place %q is unknown", b.Place)
		}
	}
	for _, c := range s.Components {
		in(t, "component kind", c.Kind, schedule.ComponentKinds)
		if c.Kind != "engine" {
			continue
		}
		in(t, "propulsion", c.Attr.Propulsion, schedule.Propulsions)
		in(t, "fuel", c.Attr.Fuel, schedule.Fuels)
		in(t, "cooling", c.Attr.Cooling, schedule.Coolings)
		if c.Attr.Fuel != "electric" {
			in(t, "stroke", c.Attr.Stroke, schedule.Strokes)
		}
	}
	for _, r := range s.Records {
		in(t, "by", r.By, schedule.Doers)
	}
}

func TestDaysAndHoursRunForward(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := demo.Generate(source(rapid.Uint64().Draw(t, "seed")), today, 25, rapid.IntRange(1, 12).Draw(t, "years"))
		last := map[string]schedule.Reading{}
		for _, r := range s.Readings {
			before, seen := last[r.ComponentID]
			if r.Day > today || seen && r.Day <= before.Day {
				t.Fatalf("reading %+v after %+v, today is %s", r, before, today)
			}
			if seen && r.Hours < before.Hours && !r.NewMeter {
				t.Fatalf("reading %+v goes back from %+v", r, before)
			}
			if days := r.Day - before.Day; seen && !r.NewMeter && (r.Hours-before.Hours).Float() > 24*float64(days) {
				t.Fatalf("reading %+v: more hours than %d days hold", r, days)
			}
			last[r.ComponentID] = r
		}
		for _, r := range s.Records {
			if r.Day > today {
				t.Fatalf("record %+v lies in the future", r)
			}
		}
		for _, b := range s.Boats {
			if b.SoldOn > today {
				t.Fatalf("boat %s sold on %s", b.ID, b.SoldOn)
			}
		}
		for _, c := range s.Components {
			if c.InService > today || c.Made > today {
				t.Fatalf("component %+v is from the future", c)
			}
		}
	})
}

func TestOwnersFollowEachOther(t *testing.T) {
	sold := map[string]civil.Day{}
	for _, b := range shop(4).Boats {
		if before, again := sold[b.ID]; again && b.SoldOn <= before {
			t.Errorf("boat %s: sold on %s, and before that on %s", b.ID, b.SoldOn, before)
		}
		sold[b.ID] = b.SoldOn
	}
}

// The three formats of 33 CFR 181.25 and of the years before it; see hin.go.
var hinFormats = regexp.MustCompile(`^[A-Z]{3}[0-9A-HJ-NPR-Z]{5}([A-L]\d{3}|(0[1-9]|1[0-2])\d\d|M\d\d[A-L])$`)

func TestHullNumbers(t *testing.T) {
	seen, empty, dressed, misread, old := map[string]string{}, 0, 0, 0, 0
	for _, b := range demo.Generate(source(5), today, 3000, 6).Boats {
		if b.HIN == "" {
			empty++
			continue
		}
		bare := strings.ReplaceAll(strings.TrimPrefix(b.HIN, "US-"), "-", "")
		if bare != b.HIN {
			dressed++
		}
		if !hinFormats.MatchString(bare) {
			misread++
			continue
		}
		if b.Year < 1984 {
			old++
		}
		if id := seen[bare]; id != "" && id != b.ID {
			t.Errorf("boats %s and %s share %s", id, b.ID, bare)
		}
		seen[bare] = b.ID
	}
	if misread == 0 || misread > 60 {
		t.Errorf("%d numbers of no known format, want a few of 3,000 on purpose", misread)
	}
	if empty == 0 || dressed == 0 || old == 0 {
		t.Errorf("%d empty, %d with country or hyphens, %d before 1984: want some of each", empty, dressed, old)
	}
}

func TestNobodyCanBeReached(t *testing.T) {
	reserved := regexp.MustCompile(`^[a-z0-9.]+@(example\.(com|org|net)|[a-z]+\.example)$`)
	fictional := regexp.MustCompile(`^[2-8]9\d-555-01\d\d$`)
	mail := map[string]bool{}
	for _, c := range shop(6).Customers {
		if c.Email != "" && (!reserved.MatchString(c.Email) || mail[c.Email]) {
			t.Errorf("customer %s: %q is no reserved address, or twice", c.ID, c.Email)
		}
		mail[c.Email] = true
		if c.Phone != "" && !fictional.MatchString(c.Phone) {
			t.Errorf("customer %s: %q is no fictional number", c.ID, c.Phone)
		}
	}
}

// TestRulesPriceEveryPart: the invented shop pays something for all that the
// catalogue uses, and its file names nothing else.
func TestRulesPriceEveryPart(t *testing.T) {
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	own, err := rules.Parse("rules.toml", demo.Rules)
	if err != nil {
		t.Fatal(err)
	}
	cat = cat.Extend(own)
	for _, f := range cat.Check() {
		if f.File == "rules.toml" {
			t.Error(f)
		}
	}
	for _, r := range cat.Rules {
		for _, p := range r.Parts {
			if cost, ok := cat.CostOf(&p); !ok || cost <= 0 || r.Price > 0 && cost >= r.Price {
				t.Errorf("rule %q sells for %s, its %s costs %s, known %v", r.Code, r.Price, p.Code, cost, ok)
			}
		}
	}
}
