package rules

import (
	"embed"
	"errors"
	"slices"
	"sync"
)

//go:embed catalogue/*.toml
var catalogueFiles embed.FS

//go:embed shop-example.toml
var shopExample []byte

// Default returns the catalogue that ships with the program, put together from
// its files in order of name. An error means that the program was built from a
// broken catalogue. It is read once, however many shops a process has; nobody may
// change it.
func Default() (*Catalogue, error) { return readDefault() }

var readDefault = sync.OnceValues(func() (*Catalogue, error) {
	entries, err := catalogueFiles.ReadDir("catalogue")
	if err != nil {
		return nil, err
	}
	c := &Catalogue{}
	var faults []error
	for _, e := range entries {
		data, err := catalogueFiles.ReadFile("catalogue/" + e.Name())
		if err != nil {
			return nil, err
		}
		part, err := Parse("catalogue/"+e.Name(), data)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		c = c.Extend(part)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	return c, nil
})

// ShopExample returns a commented catalogue file for a shop to start from.
func ShopExample() []byte { return slices.Clone(shopExample) }
