"""Running attitude and waves: rough, labelled physics that informs and never decides."""
