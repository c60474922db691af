package config

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// GroupsFile is the name of the file in a folder of shops that says which of them
// belong together. A folder without one has no group.
const GroupsFile = "group.toml"

// Group is shops of one owner.
type Group struct {
	Name   string       `toml:"name"`
	Shops  []string     `toml:"shops"`  // their folders, in the order of the page
	Owners []GroupOwner `toml:"owners"` // who sees the figures of all of them
	// ShareStops has a customer's stop, and an address that is dead, hold in all shops.
	ShareStops bool `toml:"share_stops"`
}

// GroupOwner is an owner's account in one of the shops.
type GroupOwner struct {
	Shop string `toml:"shop"` // its folder
	Name string `toml:"name"`
}

// LoadGroups reads the groups of a folder of shops. All faults come at once, each
// with file and line.
func LoadGroups(folder string) ([]Group, error) {
	path := filepath.Join(folder, GroupsFile)
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("settings %q: %w", path, err)
	}
	var file struct {
		Groups []Group `toml:"group"`
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(&file); err != nil {
		return nil, describeGroups(path, err)
	}
	var faults []error
	at := lines(data)
	in := make(map[string]string) // the group of a shop
	for i := range file.Groups {
		g := &file.Groups[i]
		g.check(in, func(field, format string, args ...any) {
			place, line := fmt.Sprintf("group#%d.", i), 0
			if line = at[place+field]; line == 0 { // it is left out: the line of what the group does say
				for key, n := range at {
					if strings.HasPrefix(key, place) && (line == 0 || n < line) {
						line = n
					}
				}
			}
			faults = append(faults, fmt.Errorf("%s:%d: group.%s: %s", path, max(line, 1), field, fmt.Sprintf(format, args...)))
		}, func(shop string) bool {
			_, err := os.Stat(filepath.Join(folder, shop, "bellbuoy.toml"))
			return err == nil && filepath.IsLocal(shop)
		})
	}
	return file.Groups, errors.Join(faults...)
}

// describeGroups words a fault of the file's text.
func describeGroups(path string, err error) error {
	var strict *toml.StrictMissingError
	if !errors.As(err, &strict) {
		return describe(path, err)
	}
	var all []error
	for _, e := range strict.Errors {
		row, _ := e.Position()
		all = append(all, fmt.Errorf("%s:%d: %s: no such setting; a [[group]] has name, shops, owners and share_stops", path, row, strings.Join(e.Key(), ".")))
	}
	return errors.Join(all...)
}

// check says what makes no sense in a group; in are the shops of the groups before
// it, and exists tells whether a folder is a shop's.
func (g *Group) check(in map[string]string, fault faulter, exists func(shop string) bool) {
	if strings.TrimSpace(g.Name) == "" {
		fault("name", "missing; it stands above the group's figures")
	}
	if len(g.Shops) < 2 {
		fault("shops", "%d: want the folders of at least two shops", len(g.Shops))
	}
	for _, shop := range g.Shops {
		other, taken := in[shop]
		switch {
		case taken:
			fault("shops", "%q is in %q already; a shop belongs to one group, once", shop, other)
		case !exists(shop):
			fault("shops", "%q: no folder with a bellbuoy.toml beside this file", shop)
		}
		in[shop] = g.Name
	}
	for _, o := range g.Owners {
		if !slices.Contains(g.Shops, o.Shop) || strings.TrimSpace(o.Name) == "" {
			fault("owners", "shop %q, name %q: want one of the group's shops, and the name of an owner's account there", o.Shop, o.Name)
		}
	}
}
