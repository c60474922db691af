package climate_test

import (
	"fmt"
	"os"

	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/words"
)

func ExampleRead() {
	file, err := os.Open("testdata/albany-normals.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer file.Close()
	f, err := climate.Read(file, climate.HardFreeze, climate.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	day, ok := f.Deadline(10)
	fmt.Println(day, ok)
	fmt.Println(f.Explain(10, words.Format{}))
	fmt.Println(f.Threshold.Meaning())
	// Output:
	// 10-11 true
	// In 10% of autumns the first night at or below -2.2 °C / 28 °F has come by October 11 at ALBANY INTERNATIONAL AIRPORT, NY US, in half of them by October 28. This is an estimate from past years, not a forecast. From published freeze normals, taken as they are.
	// -2.2 °C / 28 °F is the usual hard freeze. It is a threshold made for plants, not for engines: water left in an engine begins to freeze at 0 °C / 32 °F.
}
