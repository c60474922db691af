package imports_test

import (
	"fmt"
	"strings"
	"testing"

	"bellbuoy/store/imports"
)

// A shop's own table says whose owner agrees to winter work, in its own words. An
// empty cell, and a later table without the column, take no word back; what holds
// where the table says nothing holds for new boats alone.
func TestMappedTableSaysWhoAgreesToWinterWork(t *testing.T) {
	const column = `"Winter work ok?" = "boat.winter_work"`
	const words = "[sheet.words.\"boat.winter_work\"]\n\"OK\" = \"yes\"\n\"asked, no\" = \"no\"\n[sheet.defaults]"
	with := strings.Replace(strings.Replace(numbersMapping, `"Reg" =`, column+"\n\"Reg\" =", 1), "[sheet.defaults]", words, 1)
	const head, plain = "Owner,Email,Boat,Make,Model,HIN,Reg,Winter work ok?\n", "Owner,Email,Boat,Make,Model,HIN,Reg\n"
	row := func(name string) string { return "Ada Reed,ada@example.org," + name + ",Tarnmoor,20,," }
	db := open(t)
	for _, step := range []struct{ name, mapping, table, agree string }{
		{"first", with, head + row("Perch") + ",OK\n" + row("Osprey") + ",\"asked, no\"\n" + row("Tern") + ",\n", "Perch"},
		{"empty cells", with, head + row("Perch") + ",\n" + row("Osprey") + ",\n" + row("Tern") + ",\n", "Perch"},
		{"no such column", numbersMapping, plain + row("Perch") + "\n" + row("Osprey") + "\n" + row("Tern") + "\n", "Perch"},
		{"otherwise", with, head + row("Perch") + ",\"asked, no\"\n" + row("Osprey") + ",OK\n" + row("Tern") + ",OK\n", "Osprey Tern"},
		{"a usual answer", with + "\"boat.winter_work\" = \"yes\"\n", head + row("Perch") + ",\n" + row("Wren") + ",\n", "Osprey Tern Wren"},
	} {
		intakeMapped(t, db, step.mapping, "boats.csv", step.table, imports.MappedOptions{})
		agree := map[string]bool{}
		for _, name := range strings.Fields(step.agree) {
			agree[name] = true
		}
		for _, b := range allBoats(t, db) {
			if b.WinterWork != agree[b.Name] {
				t.Errorf("%s: %s agrees %v, want %v", step.name, b.Name, b.WinterWork, agree[b.Name])
			}
		}
		before := fmt.Sprint(everything(t, db))
		intakeMapped(t, db, step.mapping, "boats.csv", step.table, imports.MappedOptions{})
		if everything(t, db) != before {
			t.Errorf("%s: the same table again changed something", step.name)
		}
	}
}
