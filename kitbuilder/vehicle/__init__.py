"""What is known of a vehicle and a job: facts, statements, and the worlds that agree with them."""
