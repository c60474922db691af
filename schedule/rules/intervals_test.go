package rules_test

import (
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/rules"
)

// The shipped intervals as they were read once and fixed here: no manual is
// opened by this test. Each line names the document in which the figure was
// read, or says that there is none; the rule must name it too, with what that
// manual's own cell says where it says something else than the rule.
func TestIntervalsAreAsTheyWereRead(t *testing.T) {
	const (
		suzuki100  = "Suzuki DF100A owner's manual, p. 35"
		mercury100 = "Mercury 100 EFI manual, Maintenance, p. 36"
		merc82     = "MerCruiser 8.2 MAG/HO manual 90-8M0074352, section 5, p. 62"
		qsd        = "MerCruiser QSD 2.0 manual 90-8M0057081, section 5, p. 45"
		yanmar     = "Yanmar 3YM30E manual, p. 46"
		f200b      = "Yamaha F200B owner's manual (2002), p. 4-12"
		z150b      = "Yamaha Z150B owner's manual, p. 4-10"
		sbcg       = "Westerbeke 3.5 SBCG manual, p. 22"
	)
	for _, c := range []struct {
		rule   string
		hours  measure.Hours // tenths
		months int
		source string // in the rule's sources
	}{
		{"engine-oil-outboard", 1000, 12, suzuki100},
		{"engine-oil-inboard", 1000, 12, merc82},
		{"engine-oil-diesel", 1000, 12, qsd},
		{"oil-filter-outboard", 1000, 12, mercury100}, // Suzuki prints 200 h; the shorter one is taken
		{"oil-filter-inboard", 1000, 12, merc82},
		{"oil-filter-diesel", 1000, 12, qsd},
		{"gear-lube", 1000, 12, suzuki100},
		{"drive-lube", 1000, 12, merc82},
		{"fuel-filter-outboard", 1000, 12, mercury100}, // its cell: check for contaminants, replace if required
		{"fuel-filter-inboard", 1000, 12, merc82},
		{"fuel-filter-diesel", 1000, 12, qsd},
		{"impeller-check", 2000, 12, suzuki100}, // its cell: inspect; 300 h or 36 months for replacing
		{"impeller", 3000, 36, suzuki100},
		{"impeller-diesel", 10000, 48, yanmar},
		{"seawater-pump", 3000, 36, merc82},
		{"seawater-pump-diesel", 1000, 12, qsd},
		{"spark-plugs-check", 1000, 12, suzuki100},
		{"spark-plugs-inboard", 3000, 36, "MerCruiser FAQ"},
		{"spark-plugs-outboard", 3000, 36, "not seen"}, // from memory, and says so
		{"valve-clearance", 3000, 36, suzuki100},
		{"timing-belt-outboard", 10000, 60, f200b},
		{"timing-belt-diesel", 10000, 48, qsd},
		{"alternator-belt-diesel", 10000, 48, yanmar},
		{"two-stroke-pump-belt", 10000, 60, z150b},
		{"thermostat", 1000, 12, mercury100}, // its cell: look-over
		{"coolant-check", 1000, 12, merc82},
		{"coolant", 0, 24, qsd},
		{"aftercooler", 5000, 60, qsd},
		{"three-year-inspection", 3000, 36, merc82},
		{"annual-inspection-inboard", 1000, 12, merc82},
		{"trailer-bearings", 0, 12, "Dexter service schedule"},
		{"trailer-brakes", 0, 12, "Dexter service schedule"},
		{"trailer-tyres", 0, 72, "6 years"},
		{"transmission-fluid", 2500, 12, "Westerbeke W-70GA manual, ZF section"},
		{"transmission-fluid-tow", 1000, 12, "MerCruiser inboard manual 90-899883273"},
		{"shaft-alignment", 0, 12, "Westerbeke 46 operator's manual, p. 32"},
		{"seawater-side-gasoline", 3000, 36, merc82},
		{"seawater-side-diesel", 3000, 12, "Cummins 6BTA and 6CTA"},
		{"seawater-side-diesel-sterndrive", 1000, 12, qsd},
		{"aftercooler-inboard", 5000, 60, qsd},
		{"shaft-seal", 0, 72, "PYI letter"},
		{"water-separator", 3000, 12, "Cummins 6BTA and 6CTA"},
		{"trim-steering-fluid", 1000, 12, mercury100},
		{"generator-oil", 1000, 12, "Westerbeke BTG 8.5"},
		{"generator-impeller", 5000, 12, sbcg},
		{"generator-fuel-filter", 2500, 12, sbcg},
		{"generator-anode", 2500, 12, sbcg},
		{"generator-coolant", 5000, 24, sbcg},
		{"generator-exhaust", 2500, 12, sbcg},
	} {
		t.Run(c.rule, func(t *testing.T) {
			r, ok := catalogue(t).Rule(c.rule)
			if !ok {
				t.Fatal("no such rule")
			}
			if want := (rules.Interval{Months: c.months, Hours: c.hours}); r.Every != want {
				t.Errorf("every %s h or %d months, %s says %s h or %d months", r.Every.Hours, r.Every.Months, c.source, c.hours, c.months)
			}
			namesSource(t, r, c.source)
		})
	}
}

// First services, all counted from the first day in service.
func TestBreakInsAgainstPublishedCharts(t *testing.T) {
	for _, c := range []struct {
		rule   string
		hours  measure.Hours
		source string
	}{
		{"break-in-outboard", 200, "Yamaha F150B service manual, p. 10-2"},
		{"break-in-two-stroke", 100, "Yamaha Z150B owner's manual, p. 4-10"},
		{"break-in-inboard", 200, "MerCruiser 8.2 MAG/HO manual 90-8M0074352, section 5, p. 62"},
		{"break-in-diesel", 500, "Yanmar 2GM20 family"},
	} {
		t.Run(c.rule, func(t *testing.T) {
			r, ok := catalogue(t).Rule(c.rule)
			if !ok {
				t.Fatal("no such rule")
			}
			if !r.Once || r.First.Hours != c.hours {
				t.Errorf("once %v at %s h, want once at %s h", r.Once, r.First.Hours, c.hours)
			}
			namesSource(t, r, c.source)
		})
	}
}

// First intervals of what comes back later at another one.
func TestFirstIntervalsAgainstPublishedCharts(t *testing.T) {
	for _, c := range []struct {
		rule   string
		first  measure.Hours
		source string
	}{
		{"transmission-fluid", 250, "first at about 25 h"},
		{"transmission-fluid-tow", 200, "after the first 20 h"},
		{"shaft-alignment", 500, "50-hour service"},
		{"generator-oil", 500, "first 50 h"},
	} {
		t.Run(c.rule, func(t *testing.T) {
			r, ok := catalogue(t).Rule(c.rule)
			if !ok {
				t.Fatal("no such rule")
			}
			if r.First.Hours != c.first || r.Once {
				t.Errorf("first at %s h, once %v, want %s h and again after", r.First.Hours, r.Once, c.first)
			}
			namesSource(t, r, c.source)
		})
	}
}

// A figure that makers print differently has no price: this maker's manual
// decides, and the rule says so.
func TestNoPriceWhereMakersDiffer(t *testing.T) {
	c := catalogue(t)
	n := 0
	for i := range c.Rules {
		r := &c.Rules[i]
		differs := slices.ContainsFunc(r.Sources, func(s rules.Source) bool {
			return strings.Contains(s.Text, "maker's manual decides, so no price")
		})
		if differs {
			n++
			if r.Price != 0 {
				t.Errorf("%s: price %s although this maker's manual decides", r.Code, r.Price)
			}
		}
	}
	if n < 12 {
		t.Errorf("%d rules leave the price to the maker's manual, want 12 or more", n)
	}
}

// Limits set by regulation or printed on the thing.
func TestExpiriesAgainstRegulations(t *testing.T) {
	for _, c := range []struct {
		rule, source string
		want         rules.Expiry
	}{
		{"extinguisher", "33 CFR 175 subpart E; US Coast Guard message ACN 002/22",
			rules.Expiry{From: rules.FromComponent, YearsAfterMade: 12, EndOfYear: true}},
		{"flares", "46 CFR 160.024-5(b) and 160.036-5(b)",
			rules.Expiry{From: rules.FromComponent, MonthsAfterMade: 42}},
		{"co-alarm", "Consumer Product Safety Commission",
			rules.Expiry{From: rules.FromComponent, MonthsAfterMade: 60}},
		{"life-jacket-cylinder", "CO2 cylinder every 5 years",
			rules.Expiry{From: rules.FromComponent, MonthsAfterMade: 60}},
		{"registration", "46 USC 12304 and 33 CFR 173.77(a)", rules.Expiry{From: rules.FromComponent}},
		{"warranty-check", "the shop's own promise", rules.Expiry{From: rules.FromWarranty}},
	} {
		t.Run(c.rule, func(t *testing.T) {
			r, ok := catalogue(t).Rule(c.rule)
			if !ok || r.Expiry == nil {
				t.Fatal("no such rule with an expiry")
			}
			if *r.Expiry != c.want || r.GraceDays != 0 {
				t.Errorf("expiry %+v with %d days of grace, want %+v with none", *r.Expiry, r.GraceDays, c.want)
			}
			if legal := c.rule != "warranty-check"; r.Legal != legal {
				t.Errorf("legal is %v, want %v", r.Legal, legal)
			}
			namesSource(t, r, c.source)
		})
	}
}

func namesSource(t *testing.T, r *rules.Rule, source string) {
	t.Helper()
	for _, s := range r.Sources {
		if strings.Contains(s.Text, source) {
			return
		}
	}
	t.Errorf("its sources do not name %q: %v", source, r.Sources)
}
