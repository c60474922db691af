package texts_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"bellbuoy/schedule/texts"
)

func TestBadPhrases(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"unknown key":        {"[intro]\nholiday = \"x\"\n", "intro.holiday: no such phrase"},
		"unknown hole":       {"[visit]\ndeadline = \"{boat} again\"\n", "visit.deadline: nothing fills {boat}"},
		"a hole in capitals": {"[visit]\ndeadline = \"by {Deadline}\"\n", "visit.deadline: nothing fills {Deadline}"},
		"both at once":       {"[intro]\nholiday = \"x\"\n[visit]\ndeadline = \"{boat}\"\n", "visit.deadline"},
		"not a text":         {"[intro]\nnudge = 3\n", "intro.nudge: want a text"},
		"a list":             {"[intro]\nnudge = [\"a\"]\n", "intro.nudge: want a text"},
		"not toml":           {"[intro\n", "shop.toml"},
		"no table":           {"fr = 1\n", "fr: want a table"},
		"French, no key":     {"[fr.join]\nor = \"x\"\n", "fr.join.or: no such phrase"},
		"French, no hole":    {"[fr.join]\nand = \"{a} et {c}\"\n", "fr.join.and: nothing fills {c}"},
	} {
		if _, err := texts.Read("shop.toml", []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", name, err, c.want)
		}
	}
}

func TestOwnPhrasesOfTwoLanguages(t *testing.T) {
	c, err := texts.Read("shop.toml", []byte("[join]\nand = \"{a} & {b}\"\n[fr.join]\nand = \"{a} puis {b}\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	names := []string{"Heron", "Wren", "Tern"}
	if en, fr, own := c.In("en").List(names), c.In("fr").List(names), c.Own(); en != "Heron, Wren & Tern" || fr != "Heron, Wren puis Tern" || own != 2 {
		t.Errorf("%q, %q, %d own phrases", en, fr, own)
	}
	if s := c.In("nl").List(names); s != "Heron, Wren & Tern" {
		t.Errorf("a language that there is not: %q", s)
	}
}

// TestOwnPhrasesAreWritten: whoever keeps what was made with a catalog knows by its
// JSON that phrases have changed.
func TestOwnPhrasesAreWritten(t *testing.T) {
	c, err := texts.Read("shop.toml", []byte("[fr.join]\nand = \"{a} puis {b}\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(c)
	if err != nil || !strings.Contains(string(data), "{a} puis {b}") {
		t.Errorf("%.200s, %v", data, err)
	}
}

// TestOneFullStop: a short month ends a sentence by its own dot.
func TestOneFullStop(t *testing.T) {
	fr := (*texts.Catalog)(nil).In("fr")
	if s := fr.Say("intro.final-reminder", "deadline", "10 oct."); s != "C'est notre dernier rappel avant le 10 oct." {
		t.Error(s)
	}
	if s := fr.Say("intro.final-reminder", "deadline", "10 mai"); s != "C'est notre dernier rappel avant le 10 mai." {
		t.Error(s)
	}
}

func TestNamed(t *testing.T) {
	for word, want := range map[string]string{
		"en": "en", "EN": "en", "English": "en", "en_US": "en", "fr": "fr", "Français": "fr", "francais": "fr", "FRANCAIS ": "fr", "French": "fr",
		"fr-CA": "fr", "": "", "frz": "frz", "Dutch": "Dutch", "f": "f",
	} {
		if got := texts.Named(word); got != want {
			t.Errorf("%q: %q, want %q", word, got, want)
		}
	}
}

// TestOnePhraseMayNameItsNumber, which French says where English says "1 month".
func TestOnePhraseMayNameItsNumber(t *testing.T) {
	if _, err := texts.Read("shop.toml", []byte("[fr.reasons.interval.months]\none = \"{n} mois\"\n")); err != nil {
		t.Error(err)
	}
}

func ExampleTexts_List() {
	var builtin *texts.Catalog
	fmt.Println(builtin.In("fr").List([]string{"Heron", "Wren", "Tern"}))
	// Output: Heron, Wren et Tern
}

func FuzzRead(f *testing.F) {
	f.Add("[intro]\nnudge = \"Hello {name}\"\n")
	f.Add("[date]\nmonths = []\n")
	f.Add("[fr.join]\nand = \"{a}\"\n")
	f.Add("fr = 1\n")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := texts.Read("f", []byte(text))
		if err == nil && c == nil {
			t.Fatal("neither texts nor an error")
		}
	})
}
