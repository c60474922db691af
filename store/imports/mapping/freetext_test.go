package mapping_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule/rules"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// known are the services of the rules that come with the program.
func known(t testing.TB) (codes []string, services []mapping.Service) {
	t.Helper()
	c, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	for _, code := range c.ServiceCodes() {
		codes = append(codes, code)
		services = append(services, mapping.Service{Code: code, Title: c.ServiceTitle(code)})
	}
	return codes, services
}

// freeText is a table of invoice lines as people type them, the same for the same
// seed, with the services that each line truly reports.
func freeText(lines int) (table string, truth [][]string) {
	rng := rand.New(rand.NewPCG(21, 21))
	jobs := []struct {
		text  string
		truth string
	}{
		{"Changed oil & filter", "engine-oil oil-filter"}, {"oil/filter change", "engine-oil oil-filter"}, {"OIL CHANGE W/ FILTER", "engine-oil oil-filter"},
		{"gearcase oil", "gear-lube"}, {"lower unit oil, seals ok", "gear-lube"}, {"replaced water pump impeller", "impeller"}, {"winterized", "lay-up"},
		{"shrink wrapped white", "shrink-wrap"}, {"De-winterize and launch", "fit-out launch"}, {"haul out", "haul-out"}, {"zincs", "anodes"}, {"compression test all cyl", "compression-test"},
		{"plugs", "spark-plugs"}, {"fuel/water separator", "fuel-filter"}, {"new battery", ""}, {"replace bilge pump", ""}, {"installed fish finder", ""}, {"upholstery repair bow seat", "repair"},
		{"trim oil topped off", ""}, {"gelcoat work port side", ""}, {"freight", ""}, {"shop supplies", ""}, {"misc parts", ""}, {"pump", ""},
	}
	parts := []string{"Brackenhull", "Reedpike", "customer", "port", "stbd", "per owner", "ok", "done", "see note", "Uli", "Paz"}
	var words []string // 900 of a shop's own words, some frequent and most rare
	for range 900 {
		word := ""
		for range 2 + rng.IntN(3) {
			word += string("bdfgklmnrtv"[rng.IntN(11)]) + string("aeiou"[rng.IntN(5)])
		}
		words = append(words, word)
	}
	var b strings.Builder
	b.WriteString("Date,Customer,Boat,Description,Total\n")
	for i := range lines {
		job := jobs[rng.IntN(len(jobs))]
		text := job.text
		for range rng.IntN(4) {
			switch rng.IntN(4) {
			case 0:
				text = fmt.Sprintf("%d hr %s", 10*rng.IntN(60), text)
			case 1:
				text += fmt.Sprintf(" #%d-%d", rng.IntN(9000), rng.IntN(9000))
			case 2:
				text += " " + parts[rng.IntN(len(parts))]
			default:
				text += fmt.Sprintf(" (%d.%d qt)", rng.IntN(9), rng.IntN(9))
			}
		}
		if rng.IntN(3) == 0 { // words that only this shop knows
			at := rng.Float64()
			text = words[int(at*at*at*900)] + " " + words[rng.IntN(900)]
			job.truth = ""
		}
		fmt.Fprintf(&b, "2024-%02d-%02d,Owner %d,Tern %d,%q,%d.00\n", 1+i%12, 1+i%28, i%400, i%400, text, 10+rng.IntN(900))
		truth = append(truth, strings.Fields(job.truth))
	}
	return b.String(), truth
}

// Of 17,000 lines of free text at most 400 things are asked, and with every answer
// "other" no line reports a service that it does not speak of, nor comes back.
func TestFreeTextAsksLittle(t *testing.T) {
	lines := 17000
	if testing.Short() {
		lines = 4000
	}
	table, truth := freeText(lines)
	codes, services := known(t)
	o := mapping.ProposeOptions{Today: today, Services: services, Region: "US"}
	text, err := mapping.Propose([]*sheet.Book{book(t, "invoices.csv", []byte(table))}, o)
	if err != nil {
		t.Fatal(err)
	}
	draft, err := mapping.Parse([]byte(text))
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	asked := len(draft.Questions())
	found, wrong := 0, 0
	m, err := mapping.Parse([]byte(strings.ReplaceAll(text, `= "?"`, `= "other"`)))
	if err != nil {
		t.Fatal(err)
	}
	row := 0
	err = m.Read(book(t, "invoices.csv", []byte(table)), mapping.Options{Today: today, Services: codes}, func(l *mapping.Line) error {
		if len(l.Faults) > 0 {
			t.Fatalf("line %d: %v", l.Row.Line, l.Faults)
		}
		want := truth[row]
		row++
		for _, w := range l.Work {
			switch {
			case slices.Contains(want, w.Service):
				found++
			case w.Service != "other":
				if wrong++; wrong < 10 {
					t.Errorf("%q reports %s, want %v", l.Row.Cells[3].Text, w.Service, want)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	all := 0
	for _, s := range truth {
		all += len(s)
	}
	t.Logf("%d lines: %d asked, %d of %d services found without an answer, %d wrong", row, asked, found, all, wrong)
	if asked > 400 || wrong > 0 || row != lines || 10*found < 9*all {
		t.Errorf("%d asked, %d of %d found, %d wrong\n%s", asked, found, all, wrong, text)
	}
}

// What a phrase means on an invoice; nothing where a person has to say.
func TestPhrasesOfServices(t *testing.T) {
	codes, services := known(t)
	for _, tt := range []struct{ text, want string }{
		{"oil & filter change", "engine-oil oil-filter"}, {"Oil/Filter", "engine-oil oil-filter"}, {"oil change", "engine-oil"}, {"oil filter", "oil-filter"},
		{"gearcase oil", "gear-lube"}, {"Gear Case Lube", "gear-lube"}, {"gear oil", "gear-lube"}, {"lower unit", ""}, {"filter", ""}, {"oil leak", ""},
		{"winterize + shrink wrap", "lay-up shrink-wrap"}, {"de-winterize", "fit-out"}, {"haul & launch", "haul-out launch"}, {"new battery", ""}, {"drain plug", ""}, {"spark plugs (4)", "spark-plugs"},
		{"oil, impeller", "engine-oil impeller"}, {"trim oil", ""}, {"declined winterizing", ""}, {"propane heater", ""}, {"sales commissions", "fit-out"},
	} {
		t.Run(tt.text, func(t *testing.T) {
			table := fmt.Sprintf("Date,Customer,Boat,Job\n2024-05-06,Paz Okonwe,Heron,%q\n", tt.text)
			text, err := mapping.Propose([]*sheet.Book{book(t, "work.csv", []byte(table))}, mapping.ProposeOptions{Today: today, Services: services, Region: "US"})
			if err != nil {
				t.Fatal(err)
			}
			m, err := mapping.Parse([]byte(text))
			if err != nil {
				t.Fatal(err)
			}
			if asked := m.Questions(); tt.want == "" {
				if len(asked) == 0 {
					t.Errorf("nothing asked:\n%s", text)
				}
				return
			} else if len(asked) > 0 {
				t.Fatalf("asked %q", asked)
			}
			err = m.Read(book(t, "work.csv", []byte(table)), mapping.Options{Today: today, Services: codes}, func(l *mapping.Line) error {
				var got []string
				for _, w := range l.Work {
					got = append(got, w.Service)
				}
				if strings.Join(got, " ") != tt.want {
					t.Errorf("read as %v, %v, want %s", got, l.Faults, tt.want)
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
		})
	}
}

// A second draft keeps the answers of the first, and asks only what is new.
func TestSecondDraftKeepsAnswers(t *testing.T) {
	_, services := known(t)
	o := mapping.ProposeOptions{Today: today, Services: services}
	const first = "Date,Customer,Boat,Job,Code\n3/4/24,Paz Okonwe,Heron,ask Uli,a\n3/5/24,Paz Okonwe,Heron,lower unit,b\n"
	text, err := mapping.Propose([]*sheet.Book{book(t, "work.csv", []byte(first))}, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, answer := range []string{`phone_region = "?"`, `phone_region = "CA"`, `"Date" = "?"`, `"Date" = "dmy"`, `"ask Uli" = "?"`, `"ask Uli" = "repair"`, `"Code" = ""`, `"Code" = "work.note"`} {
		if !strings.Contains(text, answer) && strings.Contains(answer, "?") {
			t.Fatalf("the draft lacks %s:\n%s", answer, text)
		}
	}
	text = strings.NewReplacer(`phone_region = "?"`, `phone_region = "CA"`, `"Date" = "?"`, `"Date" = "dmy"`, `"ask Uli" = "?"`, `"ask Uli" = "repair"`, `"Code" = ""`, `"Code" = "work.note"`).Replace(text)
	if o.Prior, err = mapping.Parse([]byte(text)); err != nil {
		t.Fatal(err)
	}
	again, err := mapping.Propose([]*sheet.Book{book(t, "work.csv", []byte("Date,Customer,Boat,Job,Code\n3/4/24,Paz Okonwe,Heron,tune-up,a\n"))}, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`phone_region = "CA"`, `"Date" = "dmy"`, `"ask Uli" = "repair"`, `"Code" = "work.note"`, `"tune-up" = "?"`} {
		if !strings.Contains(again, want) {
			t.Errorf("the second draft lacks %s:\n%s", want, again)
		}
	}
	m, err := mapping.Parse([]byte(again))
	if err != nil || len(m.Questions()) != 1 {
		t.Errorf("asked %q, %v; want the tune-up only", m.Questions(), err)
	}
}
