package study

var spanish = phrases{
	crossed:   "análisis de varianza cruzado de dos factores con efectos aleatorios, surcos por personas",
	onePerson: "análisis de varianza de un factor con efectos aleatorios de las lecturas de una persona por surcos; no se estudió cuánto difieren las personas",
	pooled:    "; personas por surcos sumado a la repetibilidad, porque su p pasa de 0.25",
	kept:      "; personas por surcos como componente propia, porque su p no pasa de 0.25",

	good:     "Sirve: una lectura de cada surco puede probar %s.",
	goodWith: "Sirve para %s con %d lecturas de cada surco.",
	poor:     "No sirve para %s: ni %d lecturas de cada surco prueban más que %s. Use un calibre más fino o una tolerancia más amplia.",

	negative:   "La componente de %s salió negativa y cuenta como 0.",
	noScatter:  "Ninguna lectura difirió de sus repeticiones: la graduación oculta la dispersión, y el calibre puede ser peor de lo que se ve donde los surcos caen entre dos líneas. Su repetibilidad sigue en %s.",
	fewPeople:  "Que una sola persona lea todos los surcos de una sembradora: no se dice qué probarían varias, porque eso pide %d personas en el estudio, y aquí leyeron %d.",
	people:     "Las personas difieren. Que una sola lea todos los surcos de una sembradora: si leen varias, una lectura de cada surco prueba %s en vez de %s.",
	fewDegrees: "La dispersión se apoya en pocas repeticiones, %.0f; con más se prueba una tolerancia menor.",
	finer:      "Casi toda la dispersión es de la graduación, %s: una escala más fina ayudaría más que más lecturas.",
	byRows:     "personas por surcos", persons: "personas", rows: "surcos",

	tooMany: "tiene %d lecturas, se toman %d como máximo", wrongRows: "tiene %d surcos, debe tener de 2 a %d", wrongPeople: "tiene %d personas, debe tener de 1 a %d",
	unequal: "tiene %d lecturas del surco %d por %q, debe tener %d: cada persona lee cada surco las mismas veces, al menos dos",
}
