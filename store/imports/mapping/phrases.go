package mapping

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
)

// A phrase stands for what a text that contains it means: services, several with
// commas between, or [Open] where only a person can say, or [LeaveOut].
type phrase struct{ words, means string }

// servicePhrases are what invoices call services. The longest that fits wins, and
// what it covers speaks for nothing else: "gearcase oil" is no engine oil.
func servicePhrases() []phrase {
	return byLength([]phrase{
		{"winteriz", "lay-up"}, {"winteris", "lay-up"}, {"winter prep", "lay-up"}, {"winter lay", "lay-up"}, {"lay up", "lay-up"}, {"layup", "lay-up"},
		{"de winter", "fit-out"}, {"dewinter", "fit-out"}, {"un winter", "fit-out"}, {"unwinter", "fit-out"}, {"summeriz", "fit-out"}, {"spring", "fit-out"},
		{"commission", "fit-out"}, {"fit out", "fit-out"}, {"fitout", "fit-out"}, {"spring line", Open}, {"trailer spring", Open},
		{"oil", "engine-oil"}, {"oil filter", "oil-filter"}, {"oil and filter", "engine-oil, oil-filter"}, {"oil change and filter", "engine-oil, oil-filter"},
		{"oil change with filter", "engine-oil, oil-filter"}, {"oil with filter", "engine-oil, oil-filter"}, {"oil and oil filter", "engine-oil, oil-filter"},
		{"oil change oil filter", "engine-oil, oil-filter"}, {"oil filter change", Open}, {"oil and fuel filter", Open}, {"filter", Open}, {"lube", Open},
		{"oil tank", Open}, {"oil pump", Open}, {"oil leak", Open}, {"oil pressure", Open}, {"oil pan", Open}, {"oil cooler", Open}, {"oil sensor", Open}, {"oil seal", Open},
		{"two stroke oil", Open}, {"stroke oil", Open}, {"injection oil", Open}, {"trim oil", Open}, {"steering oil", Open}, {"hydraulic oil", Open}, {"pump oil", Open},
		{"gearcase", "gear-lube"}, {"gear case", "gear-lube"}, {"gearcase oil", "gear-lube"}, {"gear case oil", "gear-lube"}, {"gearcase lube", "gear-lube"}, {"gear case lube", "gear-lube"}, {"gear lube", "gear-lube"}, {"gear oil", "gear-lube"}, {"gearlube", "gear-lube"},
		{"lower unit oil", "gear-lube"}, {"lower unit lube", "gear-lube"}, {"lower unit fluid", "gear-lube"}, {"lower unit service", "gear-lube"}, {"lower unit", Open},
		{"drive lube", "drive-lube"}, {"drive oil", "drive-lube"}, {"outdrive oil", "drive-lube"}, {"outdrive lube", "drive-lube"}, {"sterndrive oil", "drive-lube"},
		{"transmission oil", "transmission-fluid"}, {"transmission fluid", "transmission-fluid"}, {"crankcase oil", "engine-oil"}, {"generator oil", "generator-oil"},
		{"impeller", "impeller"}, {"water pump", "impeller"}, {"seawater pump", "seawater-pump"}, {"raw water pump", "seawater-pump"},
		{"plugs", "spark-plugs"}, {"spark plug", "spark-plugs"}, {"plug", Open}, {"drain plug", Open}, {"fuel filter", "fuel-filter"}, {"water separator", "fuel-filter"},
		{"fuel separator", "fuel-filter"}, {"separating filter", "fuel-filter"}, {"bellows", "bellows"}, {"thermostat", "thermostat"}, {"zinc", "anodes"}, {"anode", "anodes"},
		{"compression", "compression-test"}, {"compressor", Open}, {"diagnos", "diagnostics"}, {"shrink", "shrink-wrap"}, {"wash", "cleaning"}, {"washdown", Open}, {"wash down", Open},
		{"washer", Open}, {"detail", "cleaning"}, {"clean", "cleaning"}, {"carb clean", Open}, {"clean carb", Open}, {"clean tank", Open}, {"tank clean", Open},
		{"wheel bearing", "trailer-bearings"}, {"trailer bearing", "trailer-bearings"}, {"bearing", "trailer-bearings"}, {"gimbal bearing", Open}, {"timing belt", "timing-belt"},
		{"battery charg", "battery-charge"}, {"battery test", "battery-test"}, {"battery", Open}, {"haul", "haul-out"}, {"launch", "launch"}, {"heated storage", "storage-heated"},
		{"inside storage", "storage-inside"}, {"indoor storage", "storage-inside"}, {"outside storage", "storage-outside"}, {"outdoor storage", "storage-outside"}, {"storage", Open},
		{"prop", "propeller"}, {"prop shaft", Open}, {"propane", Open}, {"proposal", Open}, {"recall", "recall"}, {"warranty repair", "warranty-repair"}, {"repair", "repair"}, {"warranty", Open},
		{"declin", Open}, {"quote", Open}, {"estimate", Open}, {"not done", Open}, {"no charge", Open}, {"refund", Open}, {"deposit", Open}, {"tune up", Open},
	})
}

// byLength puts the longest first.
func byLength(all []phrase) []phrase {
	slices.SortStableFunc(all, func(a, b phrase) int { return cmp.Compare(len(b.words), len(a.words)) })
	return all
}

// phraseOf writes a text as phrases are looked for in it: small words, without
// numbers, sizes and part numbers.
func phraseOf(s string) string {
	words := slices.DeleteFunc(strings.Fields(plainName(spelled(s))), func(w string) bool {
		return strings.ContainsFunc(w, unicode.IsDigit) || slices.Contains([]string{"hr", "hrs", "hour", "hours", "qt", "qts", "gal", "ft", "in", "l", "hp", "ea", "x"}, w)
	})
	return strings.Join(words, " ")
}

// spelled writes the signs between words out.
func spelled(s string) string {
	return strings.NewReplacer(" w/", " with ", "&", " and ", "+", " and ", "/", " and ").Replace(strings.ToLower(s))
}

// phrasesIn finds the phrases in a text that [phraseOf] wrote, in the order of the
// text; the first of all wins, and what it covers is not looked at for the next.
func phrasesIn(text string, all []phrase) (found []phrase) {
	text = " " + text + " "
	at := map[phrase]int{}
	for _, p := range all {
		for {
			i := strings.Index(text, " "+p.words)
			if i < 0 {
				break
			}
			end := i + 1 + len(p.words)
			end += strings.IndexByte(text[end:], ' ')
			text = text[:i] + " " + strings.Repeat("|", end-i-1) + text[end:]
			if _, known := at[p]; !known {
				found, at[p] = append(found, p), i
			}
		}
	}
	slices.SortFunc(found, func(a, b phrase) int { return cmp.Compare(at[a], at[b]) })
	return found
}

// meanings are the services that phrases stand for, in order and once each; open
// if one of them has to be asked for, out if one leaves the row out.
func meanings(found []phrase) (codes []string, open, out bool) {
	for _, p := range found {
		switch p.means {
		case Open:
			open = true
		case LeaveOut:
			out = true
		default:
			for _, code := range splitCodes(p.means) {
				if !slices.Contains(codes, code) {
					codes = append(codes, code)
				}
			}
		}
	}
	return codes, open, out
}

// splitCodes takes "engine-oil, oil-filter" apart.
func splitCodes(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' })
}

// guessServices finds the services that a text speaks of; none if it speaks of
// none that there is, or leaves open which.
func guessServices(text string, services []Service) []string {
	plain := plainName(spelled(text))
	for _, s := range services {
		if plain == plainName(s.Code) || plain == plainName(s.Title) {
			return []string{s.Code}
		}
	}
	codes, open, _ := meanings(phrasesIn(phraseOf(text), servicePhrases()))
	if open || slices.ContainsFunc(codes, func(code string) bool { return !hasService(services, code) }) {
		return nil
	}
	return codes
}

func hasService(services []Service, code string) bool {
	return slices.ContainsFunc(services, func(s Service) bool { return s.Code == code })
}

// guessService finds the one service that a column's name speaks of, "" if none.
func guessService(name string, services []Service) string {
	if codes := guessServices(name, services); len(codes) == 1 {
		return codes[0]
	}
	return ""
}
