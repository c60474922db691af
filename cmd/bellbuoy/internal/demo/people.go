package demo

import (
	"fmt"
	"math/rand/v2"

	"bellbuoy/schedule"
)

// word is a name as its bearer writes it and as a mail address can carry it.
type word struct{ written, plain string }

// The names are put together by chance; a likeness to anybody is an accident.
var (
	givenNames = []word{
		{"Anders", "anders"}, {"Beatrix", "beatrix"}, {"Chloé", "chloe"}, {"Dorian", "dorian"}, {"Elspeth", "elspeth"},
		{"Fernão", "fernao"}, {"Gwendolyn", "gwendolyn"}, {"Håkon", "hakon"}, {"Inés", "ines"}, {"Jolanta", "jolanta"},
		{"Kwame", "kwame"}, {"Lech", "lech"}, {"Maren", "maren"}, {"Nadège", "nadege"}, {"Odalys", "odalys"},
		{"Piotr", "piotr"}, {"Quentin", "quentin"}, {"Rosalind", "rosalind"}, {"Søren", "soren"}, {"Thảo", "thao"},
		{"Ulrike", "ulrike"}, {"Václav", "vaclav"}, {"Wendell", "wendell"}, {"Ximena", "ximena"}, {"Yusuf", "yusuf"},
		{"Zoë", "zoe"}, {"Agnieszka", "agnieszka"}, {"Björn", "bjorn"}, {"Cormac", "cormac"}, {"Delphine", "delphine"},
		{"Hương", "huong"}, {"Marisol", "marisol"}, {"Linus", "linus"}, {"Paweł", "pawel"}, {"Sinéad", "sinead"},
	}
	familyNames = []word{
		{"Ashgrove", "ashgrove"}, {"Brandvold", "brandvold"}, {"Czyżyk", "czyzyk"}, {"Dunmarrow", "dunmarrow"},
		{"Eklöv", "eklov"}, {"Fairlamb", "fairlamb"}, {"Górecznik", "gorecznik"}, {"Hollinbeck", "hollinbeck"},
		{"Ibarrola", "ibarrola"}, {"Jørstad", "jorstad"}, {"Kestrow", "kestrow"}, {"Løvstrand", "lovstrand"},
		{"Małkowiak", "malkowiak"}, {"Nguyễn", "nguyen"}, {"O’Carrick", "ocarrick"}, {"Pemberwick", "pemberwick"},
		{"Quillfeather", "quillfeather"}, {"Rautakorpi", "rautakorpi"}, {"Sæther", "saether"}, {"Trần", "tran"},
		{"Umbergard", "umbergard"}, {"Vâlceanu", "valceanu"}, {"Wexley-Thorne", "wexley.thorne"}, {"Ystad", "ystad"},
		{"Żelaznik", "zelaznik"}, {"Thistlecroft", "thistlecroft"}, {"Bellorme", "bellorme"}, {"Ortuño", "ortuno"},
		{"Strömvall", "stromvall"}, {"Dëmirel", "demirel"}, {"Lockspire", "lockspire"}, {"Mbeki-Hale", "mbeki.hale"},
	}
	wholeNames = []word{ // rare: written without a split into given and family name
		{"佐々木 帆波", "sasaki.honami"}, {"林 海岚", "lin.hailan"}, {"한 별이", "han.byeori"}, {"Kestrow & Sons Ltd.", "office"},
	}
	streets = []string{"Alder Spit Road", "Boathook Lane", "Chandler’s Row", "Driftwood Close", "Eelgrass Street", "Fourth Slip", "Hawser Street", "Kedge Lane", "Old Ferry Road", "Tamarack Rise"}
	// Reserved for examples by RFC 2606 and RFC 6761: no mail ever arrives.
	mailDomains = []string{"example.com", "example.org", "example.net", "lakepost.example", "covemail.example"}
)

// customer invents the n-th customer of a town.
func customer(rng *rand.Rand, n int, t *town) schedule.Customer {
	name := pick(rng, wholeNames)
	if chance(rng, 0.985) {
		given, family := pick(rng, givenNames), pick(rng, familyNames)
		name = word{given.written + " " + family.written, given.plain + "." + family.plain}
	}
	c := schedule.Customer{
		ID:         fmt.Sprintf("C%05d", n),
		Name:       name.written,
		Email:      fmt.Sprintf("%s%d@%s", name.plain, n, pick(rng, mailDomains)),
		Phone:      phone(rng),
		Address:    fmt.Sprintf("%d %s", between(rng, 1, 240), pick(rng, streets)),
		City:       t.Name,
		Region:     t.region,
		PostalCode: t.postal,
		ContactBy:  "email",
	}
	switch p := rng.Float64(); {
	case p < 0.07: // never gave an address
		c.Email, c.ContactBy = "", "phone"
	case p < 0.13: // has one, but wants to be rung
		c.ContactBy = "phone"
	case p < 0.16:
		c.ContactBy = "none"
	case p < 0.18: // an old card: wants mail, left no address
		c.Email = ""
	case p < 0.22:
		c.Phone = ""
	}
	return c
}

// phone invents a number that rings nowhere: 555-0100 to 555-0199 are set
// aside for fiction, and area codes with a 9 in the middle are kept for the
// numbering plan's own expansion (both from memory).
func phone(rng *rand.Rand) string {
	return fmt.Sprintf("%d9%d-555-01%02d", pick(rng, []int{2, 3, 5, 6, 7, 8}), rng.IntN(10), rng.IntN(100))
}
