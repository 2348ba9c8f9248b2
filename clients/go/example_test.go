package rowdatum_test

import (
	"context"
	"fmt"
	"log"
	"os"
	"time"

	"google.golang.org/protobuf/types/known/structpb"

	rowdatum "rowdatum/clients/go"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

// object makes the JSON object of a style: its figures, or where a row stands.
func object(fields map[string]any) *structpb.Struct {
	made, err := structpb.NewStruct(fields)
	if err != nil {
		log.Fatal(err)
	}
	return made
}

// A planter of two rows, described once.
func twoRows(name string) *rowdatumv1.Planter {
	return &rowdatumv1.Planter{
		DisplayName: name,
		Mechanisms: []*rowdatumv1.Mechanism{{
			Id: "handle", Style: "threaded-handle",
			Figures: object(map[string]any{"mmPerTurn": 6.35, "smallestTurn": 0.25, "totalTurns": 16}),
		}},
		Rows: []*rowdatumv1.PlanterRow{
			{Row: 1, Mechanism: "handle", Setting: object(map[string]any{"turns": 8})},
			{Row: 2, Mechanism: "handle", Setting: object(map[string]any{"turns": 8})},
		},
	}
}

// Open a job from a work order, and send its first readings. Each write has a request id of its own: if the network breaks,
// it is sent again and done once.
func Example() {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	client, err := rowdatum.Dial(os.Getenv("ROWDATUM_GRPC"), rowdatum.Options{})
	if err != nil {
		log.Fatal(err)
	}
	defer client.Close()

	planter, err := client.Planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: twoRows("Two rows of the creek farm"), PlanterId: "creek-two"})
	if err != nil {
		log.Fatal(err)
	}
	job, err := client.Jobs.CreateJob(ctx, &rowdatumv1.CreateJobRequest{
		Parent: planter.GetName(), JobId: "w-1207", Person: "Ada Quill", Job: &rowdatumv1.Job{WorkOrder: "W-1207"},
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, caution := range job.GetState().GetCautions() { // each by a named person, before anyone reaches under the planter
		fmt.Println("to tick:", caution.GetId())
	}
	done, err := client.Jobs.AddReadings(ctx, &rowdatumv1.AddReadingsRequest{
		Name: job.GetName(), Person: "Ada Quill",
		Readings: []*rowdatumv1.Reading{
			{Row: 1, Value: new(50.8), Unit: rowdatumv1.LengthUnit_MM},
			{Row: 2, Value: new(44.5), Unit: rowdatumv1.LengthUnit_MM},
		},
	})
	if err != nil {
		log.Fatal(err)
	}
	for _, row := range done.GetJob().GetState().GetRows() {
		fmt.Printf("row %d: %.1f mm, next %s\n", row.GetRow(), row.GetEstimateMm(), row.GetNext())
	}
	// Output:
	// to tick: park
	// to tick: stands
	// to tick: raised-iron
	// to tick: hands
	// to tick: manual
	// row 1: 50.8 mm, next PLAN
	// row 2: 44.5 mm, next PLAN
}

// Follow a job until it is signed or voided, across whatever breaks on the way.
func ExampleClient_Watch() {
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	client, err := rowdatum.Dial(os.Getenv("ROWDATUM_GRPC"), rowdatum.Options{})
	if err != nil {
		log.Fatal(err)
	}
	defer client.Close()
	job := voidedJob(ctx, client)

	for news, err := range client.Watch(ctx, job, 1) { // behind the opening
		if err != nil {
			log.Fatal(err)
		}
		for _, event := range news.GetEvents() {
			switch {
			case event.GetNote() != nil:
				fmt.Printf("%s: %s\n", event.GetPerson(), event.GetNote().GetText())
			case event.GetVoided() != nil:
				fmt.Printf("voided: %s\n", event.GetVoided().GetReason())
			}
		}
	}
	// Output:
	// Ben Marsh: the lift has a leak
	// voided: planter went home
}

// voidedJob makes something to follow.
func voidedJob(ctx context.Context, client *rowdatum.Client) string {
	planter, err := client.Planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: twoRows("Two rows of the mill farm")})
	if err != nil {
		log.Fatal(err)
	}
	job, err := client.Jobs.CreateJob(ctx, &rowdatumv1.CreateJobRequest{Parent: planter.GetName(), Job: &rowdatumv1.Job{}})
	if err != nil {
		log.Fatal(err)
	}
	if _, err := client.Jobs.AddNotes(ctx, &rowdatumv1.AddNotesRequest{Name: job.GetName(), Person: "Ben Marsh", Notes: []*rowdatumv1.Note{{Text: "the lift has a leak"}}}); err != nil {
		log.Fatal(err)
	}
	if _, err := client.Jobs.VoidJob(ctx, &rowdatumv1.VoidJobRequest{Name: job.GetName(), Reason: "planter went home"}); err != nil {
		log.Fatal(err)
	}
	return job.GetName()
}

// A list, read to its end without minding its pages.
func ExampleAll() {
	ctx := context.Background()
	client, err := rowdatum.Dial(os.Getenv("ROWDATUM_GRPC"), rowdatum.Options{})
	if err != nil {
		log.Fatal(err)
	}
	defer client.Close()

	request := &rowdatumv1.ListStylesRequest{PageSize: 2} // the service has three
	for style, err := range rowdatum.All(ctx, client.Styles.ListStyles, request, (*rowdatumv1.ListStylesResponse).GetStyles) {
		if err != nil {
			log.Fatal(err)
		}
		fmt.Println(style.GetName())
	}
	// Output:
	// styles/notched-stop
	// styles/shimmed-arm
	// styles/threaded-handle
}

// What is wrong with a request, all of it at once.
func ExampleError() {
	ctx := context.Background()
	client, err := rowdatum.Dial(os.Getenv("ROWDATUM_GRPC"), rowdatum.Options{})
	if err != nil {
		log.Fatal(err)
	}
	defer client.Close()

	planter := twoRows("")
	planter.Rows[1].Mechanism = "handel"
	_, err = client.Planters.CreatePlanter(ctx, &rowdatumv1.CreatePlanterRequest{Planter: planter})
	fmt.Println(rowdatum.Reason(err))
	fmt.Println(err)
	// Output:
	// INVALID_REQUEST
	// 2 things in the request are wrong.
	// planter.displayName: is missing, must be 1 to 200 characters
	// planter.rows[1].mechanism: "handel" is not the id of a mechanism of this planter
}
