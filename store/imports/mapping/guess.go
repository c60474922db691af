package mapping

import (
	"slices"
	"strings"
	"unicode"

	"bellbuoy/schedule"
	"bellbuoy/schedule/texts"
)

// Service is a service that rules know, for a draft.
type Service struct{ Code, Title string }

// headerWords are names of columns as people write them, in small letters with
// single blanks for anything that is no letter or digit.
func headerWords() map[string][]string {
	return map[string][]string{
		"customer.id":               {"customer id", "customer no", "customer number", "customer", "cust no", "cust id", "cust", "client no", "client id", "account", "account no", "acct", "acct no"},
		"customer.name":             {"owner", "customer name", "owner name", "client", "client name", "name", "full name", "owners"},
		"customer.first_name":       {"first", "first name", "firstname", "given name", "owner first"},
		"customer.last_name":        {"last", "last name", "lastname", "surname", "family name", "owner last"},
		"customer.email":            {"email", "e mail", "mail", "email address", "e mail address"},
		"customer.phone":            {"phone", "tel", "telephone", "cell", "mobile", "phone no", "phone number", "tel no", "cell phone", "home phone"},
		"customer.address":          {"address", "street", "addr", "street address", "mailing address"},
		"customer.city":             {"city", "town"},
		"customer.region":           {"state", "province", "region", "st"},
		"customer.postal_code":      {"zip", "zip code", "zipcode", "postal code", "postcode", "post code"},
		"customer.contact_by":       {"contact by", "contact", "prefers", "how to reach"},
		"customer.language":         {"language", "lang", "langue", "preferred language", "language preference", "langue préférée", "langue de correspondance"},
		"boat.id":                   {"boat id", "boat no", "boat number", "stock", "stock no", "unit", "unit no"},
		"boat.hin":                  {"hin", "hin no", "hull id", "hull no", "hull number", "hull identification number", "hull serial"},
		"boat.registration":         {"registration", "reg", "reg no", "registration no", "registration number", "bow number", "bow no"},
		"boat.registration_expires": {"reg expires", "registration expires", "reg exp"},
		"boat.name":                 {"boat", "boat name", "vessel", "vessel name"},
		"boat.make":                 {"make", "boat make", "brand", "builder", "manufacturer", "hull make"},
		"boat.model":                {"model", "boat model"},
		"boat.year":                 {"year", "model year", "yr", "boat year"},
		"boat.kind":                 {"type", "boat type", "kind", "style"},
		"boat.length_ft":            {"length", "loa", "length ft", "ft", "feet"},
		"boat.water":                {"water", "fresh salt"},
		"boat.place":                {"place", "lake", "location", "marina", "harbor", "harbour", "where"},
		"boat.berth":                {"berth", "storage", "kept", "slip", "dock", "stored"},
		"boat.winter_work":          {"winter work", "winter work ok", "winter jobs"},
		"boat.sold_on":              {"sold", "sold on", "sale date", "date sold", "purchase date", "delivered", "delivery date", "bought"},
		"boat.warranty_until":       {"warranty", "warranty until", "warranty exp", "warranty expires", "warranty end"},
		"engine.make":               {"engine make", "motor make", "engine brand"},
		"engine.model":              {"engine", "engine model", "motor", "motor model", "power"},
		"engine.propulsion":         {"propulsion", "drive", "drive type", "engine type"},
		"engine.stroke":             {"stroke", "strokes"},
		"engine.fuel":               {"fuel", "fuel type"},
		"engine.hours":              {"hours", "hrs", "engine hours", "meter", "engine hrs", "hour meter"},
		"engine.hours_on":           {"hours on", "hours date", "read on", "hours as of"},
		"trailer.label":             {"trailer"},
		"work.day":                  {"date", "day", "service date", "work date", "completed", "date done", "done on", "invoice date", "date of service"},
		"work.service":              {"service", "job", "work", "work done", "service type", "services", "work performed", "description"},
		"work.amount":               {"amount", "paid", "total", "price", "charge", "invoice total", "cost", "billed", "invoice"},
		"work.note":                 {"note", "notes", "remarks", "comment", "comments"},
		"work.by":                   {"done by", "by"},
	}
}

// hint is a piece of a word and what it speaks for.
type hint struct{ piece, means string }

// wordHints are looked for in words of closed lists, the first that fits wins.
func wordHints(field string) []hint {
	_, rest, _ := strings.Cut(field, ".")
	switch rest {
	case "kind":
		return []hint{{"pontoon", "pontoon"}, {"tritoon", "pontoon"}, {"bass", "fishing"}, {"fish", "fishing"}, {"center console", "fishing"}, {"bowrider", "runabout"},
			{"runabout", "runabout"}, {"cruiser", "cruiser"}, {"cabin", "cruiser"}, {"jet ski", "personal"}, {"pwc", "personal"}, {"personal", "personal"},
			{"wake", "tow"}, {"ski", "tow"}, {"tow", "tow"}, {"sail", "sail"}, {"other", "other"}}
	case "berth":
		return []hint{{"heated", "shop-heated"}, {"inside", "shop-inside"}, {"indoor", "shop-inside"}, {"outside", "shop-outside"}, {"outdoor", "shop-outside"},
			{"yard", "shop-outside"}, {"lift", "own-lift"}, {"trailer", "trailer-home"}, {"home", "trailer-home"}, {"dock", "own-dock"}, {"slip", "own-dock"}}
	case "winter_work":
		return []hint{{"n", "no"}, {"y", "yes"}, {"ok", "yes"}, {"x", "yes"}}
	case "water":
		return []hint{{"salt", "salt"}, {"sea", "salt"}, {"ocean", "salt"}, {"fresh", "fresh"}, {"lake", "fresh"}, {"river", "fresh"}}
	case "fuel":
		return []hint{{"gas", "gasoline"}, {"petrol", "gasoline"}, {"diesel", "diesel"}, {"electric", "electric"}}
	case "propulsion":
		return []hint{{"inboard outboard", "sterndrive"}, {"i o", "sterndrive"}, {"stern", "sterndrive"}, {"outboard", "outboard"}, {"o b", "outboard"},
			{"inboard", "inboard"}, {"jet", "jet"}, {"electric", "electric"}}
	case "stroke":
		return []hint{{"2", "two"}, {"4", "four"}, {"two", "two"}, {"four", "four"}}
	case "contact_by":
		return []hint{{"mail", "email"}, {"phone", "phone"}, {"call", "phone"}, {"tel", "phone"}, {"none", "none"}, {"no", "none"}}
	case "by":
		return []hint{{"before", schedule.ByBeforeSale}, {"elsewhere", schedule.ByElsewhere}, {"other", schedule.ByElsewhere}, {"owner", schedule.ByElsewhere},
			{"shop", schedule.ByShop}, {"us", schedule.ByShop}, {"here", schedule.ByShop}}
	}
	return nil
}

// plainName writes a header in small letters with single blanks for anything
// that is no letter or digit.
func plainName(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return ' '
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// hinted finds the first hint in a name, at the beginning of a word.
func hinted(name string, hints []hint) string {
	name = " " + plainName(name)
	for _, h := range hints {
		if strings.Contains(name, " "+h.piece) {
			return h.means
		}
	}
	return ""
}

// guessWord finds the word of a list that one of the shop's stands for, "" if
// none.
func guessWord(field, word string, list []string) string {
	plain := plainName(word)
	for _, w := range list {
		if plain == plainName(w) {
			return w
		}
	}
	if field == "customer.language" {
		plain = texts.Named(word)
		if slices.Contains(list, plain) {
			return plain
		}
		return ""
	}
	if g := hinted(word, wordHints(field)); slices.Contains(list, g) {
		return g
	}
	return ""
}

// guessHeader finds the field that a column's name speaks of, "" if none.
func guessHeader(name string) string {
	plain := plainName(name)
	words := headerWords()
	for _, field := range sorted(words) {
		if slices.Contains(words[field], plain) {
			return field
		}
	}
	if strings.Contains(plain, "email") || strings.Contains(plain, "e mail") {
		return "customer.email"
	}
	if slices.Contains(strings.Fields(plain), "hin") {
		return "boat.hin"
	}
	if strings.Contains(plain, "phone") {
		return "customer.phone"
	}
	return ""
}
