package demo_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/shop anew")

// shopFolder holds a small shop for whoever wants to look at the files, or to
// try the program on them, without generating any.
var shopFolder = filepath.Join("..", "..", "..", "..", "testdata", "shop")

func TestSmallShopIsStillTheSame(t *testing.T) {
	for name, got := range written(t, 1, 30) {
		path := filepath.Join(shopFolder, name)
		if *update {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s differs from the one that is generated; look at the difference, then -update", path)
		}
	}
}
