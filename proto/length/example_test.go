package length_test

import (
	"fmt"

	"rowdatum/proto/length"
)

func ExampleReading_Mm() {
	mm, _ := length.Reading{Bare: length.Inch}.Mm("2 1/4")
	fmt.Println(mm.FloatString(3), "mm;", length.Inches(length.Float(mm), 16), "in")
	_, err := length.Reading{}.Mm("2.25")
	fmt.Println(err)
	// Output:
	// 57.150 mm; 2 1/4 in
	// no unit
}
