package bounce_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/notify/bounce"
	"bellbuoy/schedule/testkit"
)

// corpus is where Debian's python3-flufl.bounce keeps its test data: 115 messages that
// mailing lists really got back between 2000 and 2020, most of them before the
// status codes of RFC 3463 were common. They are read where that package puts
// them and are not part of this project.
const corpus = "/usr/lib/python3/dist-packages/flufl/bounce/tests/data"

// The corpus does not say which addresses are dead, only which failed. So it was
// read by hand: what each message says to a person. What is in neither list says
// nothing of the reason, or is no bounce.
const (
	corpusDead = `bounce_02 dsn_10 dsn_11 dsn_12 dsn_13 dsn_14 dsn_15 dsn_16 dsn_18 exim_01 groupwise_01 groupwise_02 llnl_01
		microsoft_01 microsoft_02 microsoft_04 postfix_01 qmail_03 qmail_04 qmail_05 simple_04 simple_05 simple_06 simple_08 simple_11
		simple_12 simple_13 simple_15 simple_19 simple_23 simple_25 simple_26 simple_27 simple_29 simple_30 simple_32 simple_33 simple_34
		simple_36 simple_37 simple_39 simple_41 simple_43 smtp32_04 smtp32_06 smtp32_07 yahoo_03 yahoo_05 yahoo_06 yahoo_07 yahoo_08
		yahoo_09 yahoo_10 yahoo_11 yahoo_13 yale_01`
	// Temporary, full, given up after days, refused for a policy or for us.
	corpusAlive = `aol_01 bounce_01 bounce_03 dsn_01 dsn_02 dsn_03 dsn_04 dsn_05 dsn_06 dsn_07 dsn_08 dsn_09 dsn_17 dumbass_01 hotpop_01
		microsoft_03 netscape_01 newmailru_01 postfix_02 postfix_03 postfix_04 postfix_05 qmail_02 qmail_06 qmail_07 sendmail_01 simple_02
		simple_03 simple_07 simple_09 simple_14 simple_18 simple_21 simple_22 simple_28 simple_35 simple_38 simple_40 simple_42 simple_44
		smtp32_01 smtp32_02 yahoo_01 yahoo_02 yahoo_04`
)

// TestRealBounces reads the corpus: at most one in a hundred of what is alive may
// be taken for dead, and at most one in twenty of the dead be missed.
func TestRealBounces(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(corpus, "*.txt"))
	testkit.Needs(t, err == nil && len(files) > 100, "python3-flufl.bounce")
	kinds := map[string]bounce.Kind{}
	for _, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := bounce.Parse(data)
		kinds[strings.TrimSuffix(filepath.Base(path), ".txt")] = b.Kind
	}
	var missed, muted []string
	for _, name := range strings.Fields(corpusDead) {
		if kinds[name] != bounce.Dead {
			missed = append(missed, name+" "+string(kinds[name]))
		}
	}
	for _, name := range strings.Fields(corpusAlive) {
		if kinds[name] == bounce.Dead || kinds[name] == bounce.Complaint {
			muted = append(muted, name+" "+string(kinds[name]))
		}
	}
	dead, alive := len(strings.Fields(corpusDead)), len(strings.Fields(corpusAlive))
	t.Logf("%d messages; %d of %d dead addresses missed, %d of %d others taken for dead", len(files), len(missed), dead, len(muted), alive)
	if 20*len(missed) > dead {
		t.Errorf("%d of %d dead addresses missed: %q", len(missed), dead, missed)
	}
	if 100*len(muted) > alive {
		t.Errorf("%d of %d taken for dead: %q", len(muted), alive, muted)
	}
}
