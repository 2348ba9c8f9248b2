package shop

// beforeCommit is the last one whose plans priced a moved row by what is known before it is read.
const beforeCommit = "00201d4"

// before are the figures of these scenes, 200 planters each at the usual tolerance, by the rule of that commit.
var before = map[string]figures{
	"24 rows, threaded, edge-heavy wear, ruled 1/16 inch": {moves: 6.39, readings: 30.9, minutes: 14.6, excepted: 0},
	"24 rows, notched, edge-heavy wear, ruled 1/16 inch":  {moves: 5.3, readings: 33.7, minutes: 14.8, excepted: 1.52},
	"24 rows, threaded, neglected wear, ruled 1/16 inch":  {moves: 13.4, readings: 38.5, minutes: 21.8, excepted: 0},
	"24 rows, notched, neglected wear, ruled 1/16 inch":   {moves: 13.2, readings: 43.4, minutes: 23.3, excepted: 1.32},
	"24 rows, threaded, edge-heavy wear, ruled 1/8 inch":  {moves: 5.01, readings: 30.2, minutes: 13.4, excepted: 0},
	"24 rows, notched, edge-heavy wear, ruled 1/8 inch":   {moves: 7.62, readings: 33, minutes: 16.1, excepted: 0.765},
	"24 rows, threaded, neglected wear, ruled 1/8 inch":   {moves: 11.9, readings: 36.8, minutes: 20.2, excepted: 0},
	"24 rows, notched, neglected wear, ruled 1/8 inch":    {moves: 12.4, readings: 37.5, minutes: 20.8, excepted: 1.21},
	"24 rows, threaded, edge-heavy wear, ruled 1/4 inch":  {moves: 16.7, readings: 43.3, minutes: 25.6, excepted: 0.445},
	"24 rows, notched, edge-heavy wear, ruled 1/4 inch":   {moves: 10.2, readings: 35.3, minutes: 18.6, excepted: 1.3},
	"24 rows, threaded, neglected wear, ruled 1/4 inch":   {moves: 21.1, readings: 47.9, minutes: 30.1, excepted: 0.455},
	"24 rows, notched, neglected wear, ruled 1/4 inch":    {moves: 13.8, readings: 39.5, minutes: 22.4, excepted: 2.38},
}
