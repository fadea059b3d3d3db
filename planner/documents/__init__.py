"""The papers people hold in their hands: `write(study, schedule, ...)`."""
