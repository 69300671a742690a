"""Papers for a job: hold card, owner's sheet, commissioning record, as data and as PDF."""
