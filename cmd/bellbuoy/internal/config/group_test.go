package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// shopsFolder is a folder with shops north, south and west, and a file of groups.
func shopsFolder(t *testing.T, groups string) string {
	t.Helper()
	dir := t.TempDir()
	for _, shop := range []string{"north", "south", "west"} {
		if err := os.Mkdir(filepath.Join(dir, shop), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, shop, "bellbuoy.toml"), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if groups != "" {
		if err := os.WriteFile(filepath.Join(dir, GroupsFile), []byte(groups), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestLoadGroups(t *testing.T) {
	if g, err := LoadGroups(shopsFolder(t, "")); g != nil || err != nil {
		t.Errorf("without a file: %v, %v", g, err)
	}
	g, err := LoadGroups(shopsFolder(t, "[[group]]\nname = \"Two Lakes\"\nshops = [\"south\", \"north\"]\nowners = [{shop = \"north\", name = \"Marta\"}]\nshare_stops = true\n"))
	if err != nil || len(g) != 1 || g[0].Name != "Two Lakes" || strings.Join(g[0].Shops, " ") != "south north" || g[0].Owners[0] != (GroupOwner{"north", "Marta"}) || !g[0].ShareStops {
		t.Errorf("%+v, %v", g, err)
	}
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"not TOML":            {"[[group]]\nname = Two\n", []string{"group.toml:2: "}},
		"unknown key":         {"[[group]]\nname = \"A\"\nshops = [\"north\", \"south\"]\nowner = \"Marta\"\n", []string{"group.toml:4: group.owner: no such setting; a [[group]] has name, shops, owners and share_stops"}},
		"a shop alone":        {"[[group]]\nname = \"A\"\nshops = [\"north\"]\n", []string{"group.toml:3: group.shops: 1: want the folders of at least two shops"}},
		"no name, no shops":   {"\n[[group]]\nshare_stops = true\n", []string{"group.toml:3: group.name: missing", "group.toml:3: group.shops: 0: want"}},
		"an unknown folder":   {"[[group]]\nname = \"A\"\nshops = [\"north\", \"east\"]\n", []string{`group.toml:3: group.shops: "east": no folder with a bellbuoy.toml`}},
		"a folder elsewhere":  {"[[group]]\nname = \"A\"\nshops = [\"north\", \"../x\"]\n", []string{`group.shops: "../x": no folder`}},
		"in two groups":       {"[[group]]\nname = \"A\"\nshops = [\"north\", \"south\"]\n[[group]]\nname = \"B\"\nshops = [\"west\", \"south\"]\n", []string{`group.toml:6: group.shops: "south" is in "A" already`}},
		"an owner of nowhere": {"[[group]]\nname = \"A\"\nshops = [\"north\", \"south\"]\nowners = [\n {shop = \"west\", name = \"Marta\"}]\n", []string{`group.toml:4: group.owners: shop "west", name "Marta": want one of the group's shops`}},
	} {
		_, err := LoadGroups(shopsFolder(t, c.text))
		for _, want := range c.want {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v, want %q", name, err, want)
			}
		}
	}
}
